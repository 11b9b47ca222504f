"""Readings that look like a fault of the sensor: told to the keeper, and used as they are."""

from __future__ import annotations

import numpy as np

from antgrowth._core.text import counted, listed

_SPIKE_C = 5.0  # a nest does not warm and cool again by this much between two readings
_SPIKE_SPAN = np.timedelta64(150, "m")  # from the reading before to the one after
_SPIKE_LENGTH = 2  # readings in a row
_STUCK = np.timedelta64(48, "h")
_STUCK_READINGS = 24  # fewer are a keeper's own notes of a steady nest


def sensor_findings(times: np.ndarray, readings_c: np.ndarray) -> list[str]:
    """Look for spikes, and for a sensor that is stuck: a sentence for each kind of fault.

    `times` is the true order of the readings [°C].
    """
    return [*_spikes(times, readings_c), *_stuck(times, readings_c)]


def _spikes(times: np.ndarray, readings_c: np.ndarray) -> list[str]:
    """One or two readings that stand out from those before and after, on the same side of both."""
    found: dict[int, None] = {}
    for length in range(1, _SPIKE_LENGTH + 1):
        if readings_c.size < length + 2:
            break
        windows = np.lib.stride_tricks.sliding_window_view(readings_c, length + 2)
        around, inside = windows[:, [0, -1]], windows[:, 1:-1]
        out = (inside.min(axis=1) - around.max(axis=1) >= _SPIKE_C) | (
            around.min(axis=1) - inside.max(axis=1) >= _SPIKE_C
        )
        out &= times[length + 1 :] - times[: -length - 1] <= _SPIKE_SPAN
        for start in np.flatnonzero(out):
            found.update(dict.fromkeys(range(start + 1, start + 1 + length)))
    if not found:
        return []
    spikes = (f"{_clock(times[place])} ({readings_c[place]:.1f} °C)" for place in sorted(found))
    return [
        f"Possible spikes, {_SPIKE_C:.0f} °C or more off the readings just before and after: "
        f"{listed(spikes)}. They are used as they are: empty these cells if the sensor failed or "
        "was handled."
    ]


def _stuck(times: np.ndarray, readings_c: np.ndarray) -> list[str]:
    """Stretches in which the reading does not change at all."""
    edges = np.flatnonzero(np.r_[True, readings_c[1:] != readings_c[:-1], True])
    first, last = edges[:-1], edges[1:] - 1
    lasting = times[last] - times[first]
    stuck = np.flatnonzero((lasting >= _STUCK) & (last - first + 1 >= _STUCK_READINGS))
    if not stuck.size:
        return []
    spans = (
        f"{_clock(times[first[run]])} to {_clock(times[last[run]])} ({readings_c[first[run]]:.1f} "
        f"°C for {lasting[run] // np.timedelta64(1, 'h')} hours)"
        for run in stuck
    )
    return [
        f"The reading stays the same for {_STUCK // np.timedelta64(1, 'h')} hours or longer "
        f"{counted(stuck.size, 'time')}: {listed(spans)}. It is used as it is: empty these cells "
        "if the sensor was stuck; a steady nest read in whole degrees looks the same."
    ]


def _clock(stamp: np.datetime64) -> str:
    return str(stamp.astype("datetime64[m]")).replace("T", " ")
