"""Settings that all tests share."""

from hypothesis import HealthCheck, settings

# No deadline: the first call of a compiled kernel includes its compilation.
settings.register_profile(
    "project",
    deadline=None,
    derandomize=True,
    print_blob=True,
    # How fast examples are drawn depends on what else the machine does.
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("project")
