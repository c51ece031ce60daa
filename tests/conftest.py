"""Settings of all tests."""

from hypothesis import settings

# Every run draws the same examples, and a slow computer fails none of them.
settings.register_profile("project", derandomize=True, deadline=None)
settings.load_profile("project")
