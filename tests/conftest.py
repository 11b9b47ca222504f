"""What all tests share: figures without a screen, and the same made-up examples every time.

To look for examples that nobody has tried: pytest --hypothesis-profile=search tests/property
"""

import os
import sys

import pytest
from hypothesis import settings

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
