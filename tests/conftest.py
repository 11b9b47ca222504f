"""What all tests share: figures without a screen, and the same made-up examples every time.

To look for examples that nobody has tried: pytest --hypothesis-profile=search tests/property
The number of inputs that were tried is printed at the end.
"""

import os
import sys

import pytest
from hypothesis import settings
from odd import COUNT

os.environ["MPLBACKEND"] = "Agg"
# Tests share the cores already; threads of one would only wait for those of another.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None)
settings.load_profile("same")


@pytest.fixture(autouse=True)
def closed_figures():
    """Close every figure a test leaves open, without loading matplotlib where it is not used."""
    yield
    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")


def pytest_sessionfinish(session):
    """Tell how many inputs this process has tried, to the one that reports if it is another."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["tried"] = COUNT["tried"]


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node):
    """Add what a process of its own has tried."""
    COUNT["tried"] += getattr(node, "workeroutput", {}).get("tried", 0)


def pytest_terminal_summary(terminalreporter):
    """Print how many inputs were tried."""
    if COUNT["tried"]:
        terminalreporter.write_line(f"{COUNT['tried']:,} odd inputs tried")
