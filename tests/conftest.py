"""What every test shares: settled randomness."""

from __future__ import annotations

import os
import random

import numpy as np
import pytest
from hypothesis import settings

# In CI the same points are drawn every time: a change fails for what it changed. At a desk new points are drawn, and
# hypothesis keeps those that failed.
settings.register_profile("desk", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "desk")

SEED = 20_250_301


@pytest.fixture(autouse=True)
def _settled_randomness() -> None:
    """Set the global generators, for whatever a dependency draws from them; the library itself never does."""
    random.seed(SEED)
    np.random.seed(SEED)  # noqa: NPY002  (the global generator is the one to settle)
