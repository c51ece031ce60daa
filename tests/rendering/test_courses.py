"""Courses on which things are strung."""

import math

import numpy as np
import pytest

from tests.rendering.courses import STEP, strung_length

RADIUS_MM, BEADS, LONG_MM = 30.0, 9, 10.0
WITHIN_MM = 0.02  # the course is a polygon of steps of 0.25 mm


def test_what_is_strung_on_an_arc_is_as_long_as_the_chords_between_middles() -> None:
    """Middles lie 10 mm apart on an arc of radius 30 mm; either end adds half a bead."""
    turn = np.arange(0, BEADS * LONG_MM + 2 * STEP, STEP) / RADIUS_MM
    course = RADIUS_MM * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    spans = LONG_MM * np.stack([np.arange(BEADS), np.arange(1, BEADS + 1)], axis=1)
    chord = 2 * RADIUS_MM * math.sin(LONG_MM / 2 / RADIUS_MM)
    assert strung_length(course, spans) == pytest.approx((BEADS - 1) * chord + LONG_MM, abs=WITHIN_MM)
