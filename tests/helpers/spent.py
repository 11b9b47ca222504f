"""What a process has spent: to be asked of the processes that work for another."""

from __future__ import annotations

import os
import resource
import sys
import time
from pathlib import Path

from antgrowth._core.compiled import Compiled


def of_this_process(number: int = 0) -> tuple[int, float, float, int]:
    """Its number, seconds of processor, peak memory [MB], and what it compiled rather than loaded.

    `number` only tells one call from another.
    """
    time.sleep(0.2)  # so that each of two processes gets some of several such calls
    used = resource.getrusage(resource.RUSAGE_SELF)
    loaded = [m for name, m in list(sys.modules.items()) if name.startswith("antgrowth.model")]
    ready = {
        id(f): f for module in loaded for f in vars(module).values()
        if isinstance(f, Compiled) and "_dispatcher" in vars(f)
    }  # fmt: skip
    anew = sum(sum(f._dispatcher.stats.cache_misses.values()) for f in ready.values())
    return os.getpid(), used.ru_utime + used.ru_stime, _peak_mb(), anew


def _peak_mb() -> float:
    """Of this process alone: what the system tells of its use begins with that of its parent."""
    try:
        lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return float(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024
