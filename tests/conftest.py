"""Puts this folder on the path, and makes invented examples the same on every run."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "house",
    deadline=None,  # a busy machine is no fault of the code
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("house")
