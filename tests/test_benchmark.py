"""The benchmark names functions by their text: each must exist."""

import pytest

from tests.benchmark import STAGES, timed_function


@pytest.mark.parametrize(
    ("module", "name"), sorted({(module, name) for stages in STAGES.values() for module, name, _ in stages})
)
def test_functions_that_are_timed_exist(module: str, name: str) -> None:
    assert callable(timed_function(module, name)[1])


@pytest.mark.parametrize(
    ("module", "name"), [("vision.measure", "no_function"), ("vision.no_module", "no_name")]
)
def test_a_function_that_does_not_exist_is_named(module: str, name: str) -> None:
    with pytest.raises(LookupError, match=f"{module}.{name} does not exist"):
        timed_function(module, name)
