"""Views laid by hand: pieces, strings, stoppers and clasps on a bed; never square."""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from vision.chains.seen import Seen
from vision.topview.kinds import STRUNG, Kind
from vision.topview.region import Fragment

PER_MM = 5.0
SIZE_MM = (180.0, 130.0)
SURE = 0.92
"""Probability of what a cell shows; the rest is shared by the other kinds."""
Place = tuple[float, float]


@dataclass
class View:
    """What lies on a bed, in mm; later things lie on earlier ones."""

    kinds: np.ndarray = field(
        default_factory=lambda: np.zeros([round(side * PER_MM) for side in SIZE_MM[::-1]], np.uint8)
    )
    owners: list[np.ndarray] = field(default_factory=list)
    bead_chances: list[float] = field(default_factory=list)

    def line(self, kind: Kind, *places: Place, wide_mm: float = 0.8) -> "View":
        """Lay a wire, or something as long."""
        points = np.rint(np.array(places) * PER_MM).astype(np.int32)
        cv2.polylines(
            self.kinds, [points], isClosed=False, color=int(kind), thickness=round(wide_mm * PER_MM)
        )
        return self

    def piece(self, at: Place, size: Place, *, turn: float = 0.0, kind: Kind = Kind.BEAD) -> "View":
        """Lay an oval piece, its first size along a direction in radians.

        A network that knows beads only is undecided about other strung parts, and sees nothing in the rest.
        """
        mask = np.zeros(self.kinds.shape, np.uint8)
        centre, axes = (
            tuple(round(v * PER_MM * s * 16) for v in pair) for pair, s in ((at, 1.0), (size, 0.5))
        )
        cv2.ellipse(mask, centre, axes, math.degrees(turn), 0, 360, 1, cv2.FILLED, cv2.LINE_8, 4)
        self.owners = [*(other & (mask == 0) for other in self.owners), mask > 0]
        self.kinds[mask > 0] = kind
        self.bead_chances.append(1.0 if kind == Kind.BEAD else 0.5 if kind in STRUNG else 0.0)
        return self

    def discs(self, *places: Place, wide_mm: float = 6.0) -> "View":
        """Lay round beads."""
        for at in places:
            self.piece(at, (wide_mm, wide_mm))
        return self

    def blot(self, at: Place, wide_mm: float, kind: Kind) -> "View":
        """Lay something round that is no bead."""
        return self.line(kind, at, at, wide_mm=wide_mm)

    @property
    def seen(self) -> Seen:
        """What a network would make of it, soft at the edges."""
        sharp = np.stack([(self.kinds == k).astype(np.float32) for k in Kind])
        soft = np.stack([cv2.GaussianBlur(layer, (0, 0), 1.0) for layer in sharp])
        kinds = soft * SURE + (1 - SURE) / len(Kind)
        bed = np.ones(self.kinds.shape, dtype=bool)
        return Seen(kinds=kinds.astype(np.float32), bed=bed, per_mm=PER_MM, origin_mm=(0.0, 0.0))

    @property
    def fragments(self) -> list[Fragment]:
        """The pieces, in the order in which they were laid."""
        found = []
        for mask, chance in zip(self.owners, self.bead_chances, strict=True):
            x, y, w, h = cv2.boundingRect(mask.astype(np.uint8))
            found.append(Fragment(mask=mask[y : y + h, x : x + w], corner=(x, y), probability=chance))
        return found


def row(count: int, start: Place, *, step_mm: float = 6.0, heading: float = 0.0) -> list[Place]:
    """Return places in a straight row."""
    x, y = start
    return [(x + k * step_mm * math.cos(heading), y + k * step_mm * math.sin(heading)) for k in range(count)]


def ring(count: int, centre: Place, *, step_mm: float = 6.0, missing: int = 0) -> list[Place]:
    """Return places on a circle, clockwise from the top, `step_mm` apart, without the first `missing`."""
    radius = step_mm / 2 / math.sin(math.pi / count)
    angles = (2 * math.pi * k / count - math.pi / 2 for k in range(missing, count))
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]
