"""Phrases that several reports share."""

import math

import pytest

from sizing.base.target import make_target
from sizing.report.sentences.phrases import aim, bare_mm, counted, miss, number_runs, purpose


@pytest.mark.parametrize(
    ("numbers", "words"),
    [((), ""), ((7,), "7"), ((1, 2), "1, 2"), ((1, 2, 3), "1-3"), ((1, 2, 3, 20, 21), "1-3, 20, 21")],
)
def test_numbers_in_a_row_are_shortened(numbers: tuple[int, ...], words: str) -> None:
    assert number_runs(numbers) == words


@pytest.mark.parametrize(
    ("miss_mm", "words"),
    [
        (0.04, "exactly on the target"),
        (0.5, "0.5 mm over the target"),
        (-3.2, "3.2 mm (1/8 in) under the target"),  # 1/8 in is 3.175 mm
    ],
)
def test_a_miss_is_over_or_under(miss_mm: float, words: str) -> None:
    assert miss(miss_mm) == words


@pytest.mark.parametrize(
    ("given_mm", "ease_mm", "named", "meant"),
    [
        ({"finished": 254.0}, None, "a finished length of 254.0 mm (10 in)", "to finish at 254.0 mm (10 in)"),
        (
            {"strung": 254.0},
            None,
            "a strung length of 254.0 mm (10 in)",
            "for a strung length of 254.0 mm (10 in)",
        ),
        ({"ankle": 254.0}, 0.0, "an ankle of 254.0 mm (10 in)", "to fit an ankle of 254.0 mm (10 in)"),
        (
            {"wrist": 152.4},
            6.35,
            "a wrist of 152.4 mm (6 in), worn 6.4 mm (1/4 in) loose",
            "to fit a wrist of 152.4 mm (6 in), worn 6.4 mm (1/4 in) loose",
        ),
    ],
)
def test_a_target_in_words(given_mm: dict[str, float], ease_mm: float | None, named: str, meant: str) -> None:
    target = make_target(given_mm, ease_mm=ease_mm)
    assert target is not None
    assert (aim(target), purpose(target)) == (named, meant)


def test_one_is_singular() -> None:
    assert [counted(n, "bead") for n in (0, 1, 2)] == ["0 beads", "1 bead", "2 beads"]


def test_a_bare_number_has_no_unit() -> None:
    assert bare_mm(6.25, 0.04) == "6.25 ± 0.04"
    assert bare_mm(6.25, decimals=2) == "6.25"
    assert bare_mm(math.nan, math.nan) == "\N{EN DASH}"
