"""Settings that every test shares."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# The same examples on every machine and every run, and no deadline: the first call of a kernel compiles it.
settings.register_profile(
    "house",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
# For looking around: HYPOTHESIS_PROFILE=search make fast
settings.register_profile(
    "search", parent=settings.get_profile("house"), derandomize=False, max_examples=1000
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "house"))
