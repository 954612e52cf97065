"""Settings of every property test: no example has a deadline, for others use the machine."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "planner", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("planner")
