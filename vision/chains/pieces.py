"""The pieces of a top view that may hang on a string: where each lies, how large, and which way."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from vision.chains.seen import CLASPS, Seen
from vision.common.records import FloatArray
from vision.topview.kinds import STRUNG, Kind
from vision.topview.region import PROBABLE, Fragment, mean_over

_NEVER = 1e-6
"""Probability of what a network rules out; log-odds stay finite."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A strung part, or what may be one.

    Attributes
    ----------
    fragment : Fragment
    clasp_odds : float
        Log-odds that it is part of a clasp or chain, not strung; by the network that knows such.
    centre_mm : ndarray, shape (2,)
    direction : ndarray, shape (2,)
        Unit vector along its greater extent.
    long_mm, wide_mm : float
        Extents along the direction and square to it.
    outline_mm : ndarray, shape (N, 2)
    """

    fragment: Fragment
    clasp_odds: float
    centre_mm: FloatArray
    direction: FloatArray
    long_mm: float
    wide_mm: float
    outline_mm: FloatArray

    @property
    def size_mm(self) -> float:
        """Geometric mean of both extents."""
        return float(np.sqrt(self.long_mm * self.wide_mm))


def strung_pieces(fragments: Sequence[Fragment], seen: Seen) -> list[Piece]:
    """Return those fragments that show strung parts, with their shapes."""
    return [_piece(f, seen) for f in fragments if chances_of(f, seen)[list(STRUNG)].sum() > PROBABLE]


def chances_of(fragment: Fragment, seen: Seen) -> FloatArray:
    """Return the probability of each kind, (9,): the mean of what the map of kinds and that of beads say.

    They err on different pieces (a linear opinion pool, Stone 1961).
    """
    by_kind = mean_over(fragment, seen.kinds)
    by_bead = np.zeros(len(by_kind))
    by_bead[Kind.BEAD], by_bead[Kind.BED] = fragment.probability, 1 - fragment.probability
    return np.asarray((by_kind + by_bead) / 2)


def _piece(fragment: Fragment, seen: Seen) -> Piece:
    kinds = mean_over(fragment, seen.kinds) + _NEVER
    padded = np.pad(fragment.mask, 1).astype(np.uint8)
    contours, _ = cv2.findContours(padded, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(contours, key=len)[:, 0].astype(float) - 1 + np.array(fragment.corner)
    cells = np.argwhere(fragment.mask)[:, ::-1] + np.array(fragment.corner)
    centre = cells.mean(axis=0)
    spread = np.linalg.eigh(np.cov((cells - centre).T) + np.eye(2) / 12)[1]
    long, wide = (np.ptp(outline @ axis) + 1 for axis in (spread[:, 1], spread[:, 0]))
    return Piece(
        fragment=fragment,
        clasp_odds=float(np.log(kinds[list(CLASPS)].sum() / kinds[list(STRUNG)].sum())),
        centre_mm=seen.to_mm(centre),
        direction=spread[:, 1],
        long_mm=max(long, wide) / seen.per_mm,
        wide_mm=min(long, wide) / seen.per_mm,
        outline_mm=seen.to_mm(outline),
    )
