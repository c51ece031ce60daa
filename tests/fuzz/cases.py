"""The kinds of spoilt inputs, and how often each is made."""

from collections.abc import Callable
from random import Random

from tests.fuzz.case import Case
from tests.fuzz.photo_cases import file_case, memory_case, pixels_case, scene_case
from tests.fuzz.seeds import Seeds
from tests.fuzz.stash_cases import page_case, stash_case
from tests.fuzz.typed_cases import beads_case, lengths_case, options_case, piece_case, places_case

KINDS: dict[str, tuple[float, Callable[[Random, Seeds], Case]]] = {
    "picture file": (24, file_case),
    "scene": (12, scene_case),
    "pixels": (6, pixels_case),
    "piece file": (17, piece_case),
    "saved beads": (15, beads_case),
    "lengths": (10, lengths_case),
    "options": (8, options_case),
    "places": (7, places_case),
    "stash": (12, stash_case),
    "page": (3, page_case),
    "memory": (1, memory_case),
}


def make_case(kind: str, rng: Random, seeds: Seeds) -> Case:
    """Make an input of a kind."""
    return KINDS[kind][1](rng, seeds)


def pick_kind(rng: Random) -> str:
    """Return a kind, the more fruitful ones more often."""
    return rng.choices(list(KINDS), [weight for weight, _ in KINDS.values()])[0]
