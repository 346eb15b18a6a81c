"""Settings shared by all tests."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "quick",
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("deep", max_examples=600, deadline=None)
settings.load_profile(os.environ.get("SIZEWRIGHT_HYPOTHESIS", "quick"))
