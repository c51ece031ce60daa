"""Tests of what is said of the strands of one photo together."""

from types import SimpleNamespace

import pytest

from tests.helpers.strands import make_strand
from vision.checks.layout import loose_beads
from vision.common.errors import CoarsePhotoError
from vision.common.records import Strand
from vision.strand.measure import strands_of

_BLURRED = "the picture is blurred over 0.2 mm at every edge"


@pytest.fixture
def four_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let four rows be found, the second of which is blurred; the third is of loose beads."""
    refused = {2: CoarsePhotoError(_BLURRED), 5: loose_beads(5)}

    def measured(_: object, found: SimpleNamespace) -> Strand:
        if found.beads in refused:
            raise refused[found.beads]
        return make_strand([8.0] * found.beads)

    rows = [SimpleNamespace(beads=beads, apart=()) for beads in (3, 2, 5, 4)]
    monkeypatch.setattr("vision.strand.measure.divide", lambda _: rows)
    monkeypatch.setattr("vision.strand.measure._strand_of", measured)


@pytest.mark.usefixtures("four_found")
def test_a_strand_that_cannot_be_measured_is_told_with_the_others() -> None:
    strands = strands_of(SimpleNamespace())  # type: ignore[arg-type]
    assert [(s.number, s.count, s.refused) for s in strands] == [(1, 3, (_BLURRED,)), (2, 4, (_BLURRED,))]
    assert [bead.number for strand in strands for bead in strand.beads] == [1, 2, 3, 4, 5, 6, 7]
