"""Tables drawn at random: what lies on them does not overlap, and what is said of strings is so."""

import functools
import itertools
from collections import Counter
from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from tests.rendering.arrangement import Strung, Table, arranged
from tests.rendering.courses import STEP, closed_curve, curve
from tests.rendering.things import Part
from vision.topview.kinds import STRUNG

HALF = (105.0, 78.0)
SEEDS = range(16, 40)
PER_MM = 20.0
APART, STRUNG_APART = 0.02, 1 / 3
"""Of the smaller outline from above: what cells round off, and what thin spacers lose inside of a bend."""
CLASP_GAP_MM = 0.05
PLACE_MM = 0.1
"""How far a piece's middle may lie off its string: the course goes on in straight steps."""
LENGTH_REL = 0.01


@functools.cache
def table(seed: int) -> Table:
    return arranged(np.random.default_rng([seed, 31]), HALF)


def pieces(drawn: Table) -> list[Part]:
    return [part for part in drawn.parts if part.kind in STRUNG]


def strings() -> Iterator[tuple[Table, Strung]]:
    for seed in SEEDS:
        for string in table(seed).strings:
            yield table(seed), string


def outline(part: Part) -> np.ndarray:
    """Return the convex outline from above, in twentieths of a millimetre."""
    return cv2.convexHull(np.rint(part.mesh.points[:, :2] * PER_MM).astype(np.int32))


def overlap(one: np.ndarray, other: np.ndarray) -> float:
    """Return what two outlines share, over the smaller one."""
    both = np.concatenate([one, other]).reshape(-1, 2)
    corner, size = both.min(axis=0), np.ptp(both, axis=0) + 1
    masks = [np.zeros(size[::-1], np.uint8) for _ in range(2)]
    for mask, hull in zip(masks, (one, other), strict=True):
        cv2.fillConvexPoly(mask, hull - corner.astype(np.int32), 1)
    return float((masks[0] & masks[1]).sum() / min(mask.sum() for mask in masks))


@pytest.mark.parametrize("seed", SEEDS)
def test_no_piece_lies_on_another(seed: int) -> None:
    drawn = table(seed)
    string_of = {int(owner): k for k, string in enumerate(drawn.strings) for owner in string.owners}
    laid = [(string_of.get(part.owner, -part.owner), outline(part)) for part in pieces(drawn)]
    for (string, one), (other_string, other) in itertools.combinations(laid, 2):
        (x, y, w, h), (x2, y2, w2, h2) = cv2.boundingRect(one), cv2.boundingRect(other)
        if x < x2 + w2 and x2 < x + w and y < y2 + h2 and y2 < y + h:
            assert overlap(one, other) < (STRUNG_APART if string == other_string else APART)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_laid_one_by_one_touches_nothing(seed: int) -> None:
    for one, other in itertools.combinations(table(seed).taken, 2):
        apart = np.linalg.norm(one[:, None, :2] - other[None, :, :2], axis=2)
        assert (apart >= one[:, None, 2] + other[None, :, 2]).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_each_piece_has_an_owner_of_its_own_and_nothing_else_has(seed: int) -> None:
    drawn = table(seed)
    owners = Counter(part.owner for part in drawn.parts if part.owner)
    assert set(owners.values()) <= {1}
    assert sorted(owners) == list(range(1, drawn.owners + 1))
    assert all((part.owner > 0) == (part.kind in STRUNG) for part in drawn.parts)


def test_a_byte_holds_254_owners_and_what_comes_later_has_none() -> None:
    drawn = Table(half=HALF)
    assert [drawn.owner() for _ in range(258)] == [*range(1, 255), 0, 0, 0, 0]


def test_spans_lie_end_to_end_within_the_course() -> None:
    closed = 0
    for _, string in strings():
        gaps = string.spans[1:, 0] - string.spans[:-1, 1]
        length = (len(string.course) - 1) * STEP
        assert gaps.min(initial=0.0) >= -1e-9
        assert string.spans[0, 0] >= 0
        assert string.spans[-1, 1] <= length
        if string.closed:
            closed += 1
            assert gaps == pytest.approx(CLASP_GAP_MM)
    assert closed > 0


def test_strung_pieces_lie_at_their_spans() -> None:
    for drawn, string in strings():
        parts = {part.owner: part for part in drawn.parts if part.owner}
        for span, kind, owner in zip(string.spans, string.kinds, string.owners, strict=True):
            k = int(np.clip(span.mean() / STEP, 0, len(string.course) - 2))
            points = parts[owner].mesh.points[:, :2]
            ahead = string.course[k + 1] - string.course[k]
            ahead = ahead / np.linalg.norm(ahead)
            along = points @ ahead
            assert parts[owner].kind == kind
            assert np.ptp(along) == pytest.approx(np.ptp(span), abs=PLACE_MM)


def test_strung_pieces_are_as_wide_as_is_said() -> None:
    for drawn, string in strings():
        parts = {part.owner: part for part in drawn.parts if part.owner}
        for across, owner, span in zip(string.across, string.owners, string.spans, strict=True):
            k = int(np.clip(span.mean() / STEP, 0, len(string.course) - 2))
            (x, y) = string.course[k + 1] - string.course[k]
            aside = np.array([-y, x]) / np.hypot(x, y)
            assert np.ptp(parts[owner].mesh.points[:, :2] @ aside) == pytest.approx(across, abs=PLACE_MM)


def test_no_piece_reaches_below_the_bed() -> None:
    for seed in SEEDS:
        for part in pieces(table(seed)):
            assert part.mesh.points[:, 2].min() > -1e-6


@pytest.mark.parametrize("length", [40.0, 120.0])
def test_courses_are_as_long_as_asked_in_equal_steps(length: float) -> None:
    rng = np.random.default_rng(5)
    for course in (curve(length, rng, straight=False), closed_curve(length, rng)):
        steps = np.hypot(*np.diff(course, axis=0).T)
        assert steps == pytest.approx(STEP, rel=LENGTH_REL)
        assert steps.sum() == pytest.approx(length, abs=2 * STEP + LENGTH_REL * length)
