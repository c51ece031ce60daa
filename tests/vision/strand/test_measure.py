"""Tests of what is said of the strands of one photo together."""

from types import SimpleNamespace

import pytest

from tests.helpers.strands import make_strand
from vision.common.errors import CoarsePhotoError
from vision.common.records import Strand
from vision.strand.measure import strands_of

_BLURRED = "the picture is blurred over 0.2 mm at every edge"


@pytest.fixture
def three_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let three strands be found, the middle one of which is blurred."""

    def measured(_: object, found: SimpleNamespace) -> Strand:
        if found.blurred:
            raise CoarsePhotoError(_BLURRED)
        return make_strand([8.0] * found.beads)

    rows = [SimpleNamespace(beads=beads, blurred=beads == 2, apart=()) for beads in (3, 2, 4)]
    monkeypatch.setattr("vision.strand.measure.divide", lambda _: rows)
    monkeypatch.setattr("vision.strand.measure._strand_of", measured)


@pytest.mark.usefixtures("three_found")
def test_a_strand_that_cannot_be_measured_is_told_with_the_others() -> None:
    strands = strands_of(SimpleNamespace())  # type: ignore[arg-type]
    assert [(s.number, s.count, s.refused) for s in strands] == [(1, 3, (_BLURRED,)), (2, 4, (_BLURRED,))]
    assert [bead.number for strand in strands for bead in strand.beads] == [1, 2, 3, 4, 5, 6, 7]
