"""The top view, as fine as its beads need, and the map of its beads.

Small beads are few cells wide where networks read at the scale of their training, and are seen less surely
then. So a top view whose pieces are mostly unsure is read once more, finer, and the surer reading counts.
"""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np

from vision.camera.scene import Scene
from vision.topview.bead_map import CELLS_PER_MM, BeadMap, bead_map
from vision.topview.bed import bed_region
from vision.topview.instances import possible_beads
from vision.topview.orthophoto import Orthophoto, orthophoto
from vision.topview.region import SURE, Fragment

_FINER = 2.0
"""Times as fine: on traced tables, of 612 beads of 2 to 3.5 mm in 14 lots, 484 are found, and 45 other
things, without it, 560 and 36 with it. At 1.5 nearly as many, but of 21 clear ones on felt half are lost."""
_WIDE_MM = 8.0
"""No bead is enlarged beyond this: networks learnt beads of 2 to 16 mm, at 0.6 to 1.7 times their size, and
see those in the middle best."""
_MOST_CELLS = 1e7
"""Of a finer view. A wider one is taken less fine: its maps would take a gigabyte."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A top view, the map of its beads, and the pieces on it that may be beads, in no order."""

    top: Orthophoto
    maps: BeadMap
    pieces: list[Fragment]

    @classmethod
    def of(cls, scene: Scene, *, times: float = 1.0, before: BeadMap | None = None) -> Self:
        """Read a scene's top view on cells that are so many times as fine as those of training.

        One that is finer is read where a map made `before` shows anything.
        """
        top = orthophoto(scene, finest_cells_per_mm=CELLS_PER_MM, times=times)
        maps = bead_map(top, bed_region(top, scene.sheet, scale=scene.scale), before=before)
        return cls(top=top, maps=maps, pieces=possible_beads(maps, per_mm=top.cells_per_mm))

    @property
    def sureness(self) -> float:
        """Median probability of the pieces; 0 where nothing is to be seen."""
        return float(np.median([piece.probability for piece in self.pieces] or [0.0]))

    def worth(self) -> float:
        """Return how many times as fine it is worth reading again; 0 where nothing is to be seen."""
        if not 0 < self.sureness < SURE:
            return 0.0
        cells = 2 * math.sqrt(float(np.median([piece.area for piece in self.pieces])) / math.pi)
        bead_mm = cells / self.top.cells_per_mm
        return min(_FINER, _WIDE_MM / bead_mm, math.sqrt(_MOST_CELLS / self.top.seen.size))


def map_from_above(scene: Scene) -> Reading:
    """Return the reading of a scene's top view that is surer."""
    seen = Reading.of(scene)
    if (times := seen.worth()) > 1:
        finer = Reading.of(scene, times=times, before=seen.maps)
        if finer.sureness > seen.sureness:
            return finer
    return seen
