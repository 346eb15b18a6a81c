"""Settings shared by all tests."""

from __future__ import annotations

import os
import sys

from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers

# Modules are compiled once, and not again by each test that starts the program.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Tests run on every core already: threads that wait for each other in linear algebra would only
# take time from them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

settings.register_profile(
    "quick",
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("deep", max_examples=600, deadline=None)
_PROFILE = os.environ.get("SIZEWRIGHT_HYPOTHESIS", "quick")
settings.load_profile(_PROFILE)
if _PROFILE == "quick" and hasattr(providers, "_get_local_constants"):
    # Examples are made of numbers and words in whichever modules are loaded, too: which those are
    # depends on the tests that ran before, so the same examples would not come every time.
    providers._get_local_constants = providers.Constants
