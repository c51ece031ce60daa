"""Lengths along a straight string that boundaries at given places have."""

import numpy as np

from tests.helpers.cameras import camera_at
from tests.helpers.handmade import straight_plane
from vision.strand.length import BeadBodies, lengths_along
from vision.strand.reconciled import Lengths
from vision.strand.strip import Segment

CAMERA = camera_at(40.0, 10.0, 300.0)
PLANE_MM = 4.0


def measured(
    edges: np.ndarray,
    *,
    centre_mm: float = PLANE_MM,
    width_mm: float | np.ndarray = 8.0,
    gape_mm: np.ndarray | float = 0.0,
) -> Lengths:
    """Measure touching beads whose boundaries lie at `edges`, or pairs of edges (B, 2)."""
    pairs = edges if edges.ndim == 2 else np.column_stack([edges[:-1], edges[1:]])
    bodies = BeadBodies(
        centre_mm=np.full(len(pairs), centre_mm),
        width_mm=np.broadcast_to(width_mm, len(pairs)),
        aside_mm=np.zeros(len(pairs)),
        gape_mm=np.broadcast_to(gape_mm, len(pairs) - 1),
    )
    plane = straight_plane(float(pairs.max()) + 5.0, height_mm=PLANE_MM, camera=CAMERA)
    segments = [Segment(start_mm=float(a), end_mm=float(b)) for a, b in pairs]
    return lengths_along(plane, segments, bodies=bodies)
