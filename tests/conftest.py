"""What all tests share: figures are drawn without a screen, and closed."""

import os
import sys

import pytest

os.environ["MPLBACKEND"] = "Agg"


@pytest.fixture(autouse=True)
def closed_figures():
    """Close every figure a test leaves open, without loading matplotlib where it is not used."""
    yield
    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")
