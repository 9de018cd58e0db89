"""Settings that all tests share."""

from hypothesis import settings

# No deadline: the first call of a compiled kernel includes its compilation.
settings.register_profile("project", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("project")
