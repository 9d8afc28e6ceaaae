"""Hypothesis profiles for the whole suite: quick by default, repeatable in CI, deep on request.

`HYPOTHESIS_PROFILE=deep pytest tests/rules` searches longer; on a CI machine (`CI` set) every run draws the same
examples, so that a red run is red again. `lines` is for the coverage run, which asks what is reached, not whether it is
right.
"""

import os

from hypothesis import HealthCheck, settings

# one abstract suite runs the same property in each of its subclasses
_SLOW_OK = [HealthCheck.too_slow, HealthCheck.differing_executors]

settings.register_profile("quick", max_examples=60, deadline=None, suppress_health_check=_SLOW_OK)
settings.register_profile("ci", max_examples=60, deadline=None, derandomize=True, suppress_health_check=_SLOW_OK)
settings.register_profile("lines", max_examples=10, deadline=None, derandomize=True, suppress_health_check=_SLOW_OK)
settings.register_profile("deep", max_examples=3000, deadline=None, suppress_health_check=_SLOW_OK)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "quick"))
