"""Settings of all tests."""

from hypothesis import settings

# Looking for examples imports every module; these need PyTorch, which only training does.
collect_ignore_glob = ["training/train*.py", "training/network.py"]

# Every run draws the same examples, and a slow computer fails none of them.
settings.register_profile("project", derandomize=True, deadline=None)
settings.load_profile("project")
