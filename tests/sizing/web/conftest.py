"""What all tests of the served page begin with: a page that is served, and beads measured there."""

from collections.abc import Iterator

import pytest

from tests.helpers.served import Served, measure, served


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the page, for the tests of one module."""
    with served(tmp_path_factory.mktemp("served")) as running:
        yield running


@pytest.fixture(scope="module")
def strand(page: Served) -> str:
    """Measure a strand and give the address of the result."""
    return measure(page.at_computer, "strand", "", goal="finished", length="200 mm", findings="22 mm")
