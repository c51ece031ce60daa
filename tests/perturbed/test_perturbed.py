"""The spoilt photos show what they should, verdicts are just, and a few answers are never silently wrong."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.paths import SAMPLES
from tests.perturbed.bent import bent, curl, fold
from tests.perturbed.case import Case, mapped, read_case
from tests.perturbed.covers import COVERED
from tests.perturbed.framing import CROPPED
from tests.perturbed.lens import STRETCHED
from tests.perturbed.verdict import doubts, judged, wrongs
from tests.perturbed.ways import FAMILIES
from vision.common.records import FloatArray, Photo
from vision.sheet.geometry import SHEETS
from vision.sheet.tags import find_tags

STRAND, LOT = "anklet", "labelled-10mm"
SEEN_PX = 0.7
"""How far corners may be seen from where they are put: the lens of the drawn photos bends a little."""

SAGITTA_MM = 1e-3
"""s = w^2 / 8 r holds for a shallow arc."""


def case_of(name: str) -> Case:
    case = read_case(SAMPLES / f"{name}.jpg")
    assert case is not None
    return case


@pytest.fixture(scope="module")
def strand() -> Case:
    return case_of(STRAND)


def corners(case: Case) -> tuple[FloatArray, FloatArray]:
    """Corners of the tags that are found in a picture, on the sheet in mm and in pixels, (N, 2)."""
    tags = find_tags(Photo(name="spoilt.jpg", rgb=case.rgb))
    on_sheet = np.array([tags.sheet.corners_mm(i) for i in tags.ids])
    return on_sheet.reshape(-1, 2), tags.corners_px.reshape(-1, 2)


@pytest.mark.parametrize("name", ["two sides cut off", "digital zoom 1.2", "3 % wider"])
def test_tags_are_seen_where_the_truth_moved_them(strand: Case, name: str) -> None:
    spoilt = (CROPPED | STRETCHED)[name](strand)
    assert spoilt is not None
    on_sheet, seen = corners(spoilt)
    assert len(seen) >= 12
    assert np.abs(mapped(spoilt.to_px, on_sheet) - seen).max() < SEEN_PX


@pytest.mark.parametrize(("bend", "rise"), [(fold(4), (200.0, 51.5)), (curl(3), (148.5, 0.0))])
def test_a_bent_sheet_is_seen_as_opencv_projects_it(strand: Case, bend, rise) -> None:  # noqa: ANN001
    on_sheet, seen = corners(bent(bend)(strand))
    moved = bend(on_sheet[:, 0], SHEETS[strand.sheet].page_mm[0])
    middle = (np.array(strand.size_px) - 1) / 2
    matrix = np.array([[strand.focal_px, 0, middle[0]], [0, strand.focal_px, middle[1]], [0, 0, 1]])
    flat, at = corners(strand)
    _, turn, shift = cv2.solvePnP(np.column_stack([flat, np.zeros(len(flat))]), at, matrix, np.zeros(4))
    # OpenCV's z runs down where x is right and y down.
    lifted = np.column_stack([moved[:, 0], on_sheet[:, 1], -moved[:, 1]])
    wanted = cv2.projectPoints(lifted, turn, shift, matrix, np.zeros(4))[0].reshape(-1, 2)
    assert np.abs(wanted - seen).max() < SEEN_PX
    # closed forms: beyond s of the fold the height is s sin(angle); the sagitta is the cylinder's
    place, beyond = rise
    height = float(bend(np.array([place]), 297.0)[0, 1])
    assert height == pytest.approx(beyond * np.sin(np.radians(4)) if beyond else 3.0, abs=SAGITTA_MM)


@pytest.mark.parametrize("name", ["finger beside a bead", "coin beside a bead"])
def test_what_lies_beside_covers_no_bead(name: str) -> None:
    case = case_of(LOT)
    spoilt = COVERED[name](case)
    assert spoilt is not None
    changed = (spoilt.rgb != case.rgb).any(axis=2)
    assert changed.mean() > 0.005
    x, y = case.px.round().astype(int).T
    assert not changed[y, x].any()


def test_answers_are_judged_by_count_length_and_sizes(strand: Case) -> None:
    beads = [
        {"px": list(px), "across_mm": a, "across_u95_mm": 0.1, "along_mm": b, "along_u95_mm": 0.1}
        for px, (a, b) in zip(strand.px, strand.sizes_mm, strict=True)
    ]
    said = {"length_mm": strand.length_mm, "length_u95_mm": 1.0, "flags": ["unsure-count", "odd-size"]}
    assert wrongs(strand, {"beads": beads, "strand": said}) == []
    assert wrongs(replace(strand, answerable=False), {"beads": beads, "strand": said}) != []
    assert wrongs(strand, {"beads": beads[1:], "strand": said}) == ["39 beads, 39 of 40 found"]
    long = said | {"length_mm": 236.0}
    assert wrongs(strand, {"beads": beads, "strand": long}) == ["length off by +1.44 mm, stated 1.00"]
    wide = [bead | {"across_mm": bead["across_mm"] + 0.2} for bead in beads]
    assert wrongs(strand, {"beads": wide, "strand": said})[0].startswith("50% of sizes outside")
    assert doubts({"strand": said}) == {"unsure-count"}


@pytest.mark.parametrize(
    ("name", "family", "way"),
    [
        (STRAND, "cropped", "digital zoom 1.2"),
        (STRAND, "cut off", "strand cut off"),
        (STRAND, "covered", "glare of two beads"),
        (STRAND, "covered", "finger over a bead"),
        (STRAND, "blurred", "blurred by 0.6 mm"),
        (LOT, "small", "640 pixels"),
        (LOT, "cropped", "one side cut off"),
        (LOT, "covered", "coin over half a bead"),
    ],
)
def test_no_answer_is_wrong_and_silent(name: str, family: str, way: str) -> None:
    spoilt = FAMILIES[family][way](case_of(name))
    assert spoilt is not None
    verdict = judged(spoilt)
    assert verdict.kind in {"right", "flagged", "refused"}, verdict.why
