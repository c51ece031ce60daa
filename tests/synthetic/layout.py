"""Beads and the places they are given; `strung` and `loose` fill a layout."""

from dataclasses import dataclass, field

import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.looks import Body
from tests.synthetic.solids import Solid

Area = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(kw_only=True)
class Layout:
    """Bodies on the bed, the beads first, and a row of truth for each bead."""

    bodies: list[Body] = field(default_factory=list)
    truth: list[dict] = field(default_factory=list)
    kinds: list[tuple[str, str]] = field(default_factory=list)  # shape and look of each loose bead
    strand_mm: float | None = None
    closed_up_mm: float | None = None
    loop: dict | None = None  # of a closed piece: its length all round, its inner girth


@dataclass(frozen=True, kw_only=True)
class Bead:
    """A bead that has no place yet."""

    solid: Solid
    size: float
    look: str
    colour: tuple[float, float, float]
    seed: int
    shape: str = "round"
    veins: float = 0.0
    relief: float = 0.0

    def body(self, turn: Array, centre: Array, *, core: float = 0.0, strung: bool = False) -> Body:
        """Return the bead in its place."""
        return Body(
            solid=self.solid,
            turn=turn,
            centre=centre,
            look=self.look,
            colour=self.colour,
            core=core,
            strung=strung,
            seed=self.seed,
            veins=self.veins,
            relief=self.relief,
        )


def standing(axis: Array, roll: float) -> Array:
    """Return the rotation, shape (3, 3), that takes a bead's own x to a world axis, rolled about it."""
    x = axis / np.linalg.norm(axis)
    helper = np.array([0.0, 0.0, 1.0]) if abs(x[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    y = np.cross(helper, x)
    y /= np.linalg.norm(y)
    z = np.cross(x, y)
    return np.stack([x, np.cos(roll) * y + np.sin(roll) * z, np.cos(roll) * z - np.sin(roll) * y], axis=1)


def below(solid: Solid, turn: Array) -> float:
    """Return how far a turned solid reaches down from its centre."""
    return float(solid.support(np.array([[0.0, 0.0, -1.0]]) @ turn)[0])


def world(xy: Array, z: float) -> Array:
    """Return the world point of a sheet point (y down) at a height."""
    return np.array([xy[0], -xy[1], z])
