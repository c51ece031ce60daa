"""Meshes against closed forms of the bodies that they stand for."""

import math
from collections import Counter

import numpy as np
import pytest

from tests.rendering.courses import rotation
from tests.rendering.meshes import (
    Mesh,
    bored,
    box,
    capsule,
    helix,
    joined,
    lump,
    revolved,
    ring,
    sphere_points,
    superquadric,
    swept,
)
from tests.rendering.surfaces import Surface
from tests.rendering.things import SHAPES, BeadKind, bead_mesh

EXACT = 1e-9
SIDES = 48
FINE_REL = 0.004
"""What curved bodies of flat faces may fall short by; the polygon's share is accounted for."""
SPHERE_REL, SPHERE_LEVELS = 0.01, 3
PROFILE = np.linspace(-1, 1, 401)


def polygon(sides: int) -> float:
    """Return the area of a regular polygon in a circle of radius 1: n / 2 sin(2 pi / n)."""
    return sides / 2 * math.sin(2 * math.pi / sides)


def welded(mesh: Mesh) -> np.ndarray:
    """Return the faces of a mesh with points of one place taken for one, and without those of no area."""
    _, same = np.unique(np.round(mesh.points, 6) + 0.0, axis=0, return_inverse=True)
    faces = same.reshape(-1)[mesh.faces]
    a, b, c = faces.T
    return faces[(a != b) & (b != c) & (c != a)]


def open_edges(mesh: Mesh) -> int:
    """Return how many edges are not shared by two faces that wind the same way."""
    faces = welded(mesh)
    ways = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    count = Counter(map(tuple, ways.tolist()))
    return sum(times != 1 or count[b, a] != 1 for (a, b), times in count.items())


def volume(mesh: Mesh) -> float:
    """Return the volume within a mesh, by the divergence theorem; below 0 where faces wind inwards."""
    a, b, c = mesh.points[mesh.faces].transpose(1, 0, 2)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def extents(mesh: Mesh) -> np.ndarray:
    return np.ptp(mesh.points, axis=0)


def sphere(radius: float = 1.0) -> Mesh:
    return revolved(radius * PROFILE, radius * np.sqrt(1 - PROFILE**2), sides=SIDES)


def bead(shape: str) -> Mesh:
    """Return a bead of 6 mm along its hole and 8 mm across."""
    surface = Surface(look="opaque", colour=(0.5, 0.5, 0.5), rough=0.1)
    kind = BeadKind(shape=shape, across=8.0, along=6.0, hole=0.6, surfaces=(surface,), spread=0.0)
    return bead_mesh(kind, np.random.default_rng(3))


CLOSED = {
    "revolved": sphere(),
    "bored": bored(3 * PROFILE, 3 * np.sqrt(1 - PROFILE**2), hole=0.5),
    "box": box(1.0, 2.0, 3.0),
    "ring": ring(5.0, 1.0),
    "sphere": sphere_points(2),
    "superquadric": superquadric((2.0, 3.0, 1.5), 4.0),
    "lump": lump((2.0, 3.0, 1.5), rough=0.1, facets=True, rng=np.random.default_rng(4)),
    "joined": joined(sphere(), box(1.0, 2.0, 3.0).moved(np.eye(3), (5.0, 0.0, 0.0))),
} | {shape: bead(shape) for shape in sorted({*SHAPES, "round"} - {"melon"})}
"""Ribs of melons reach into the hole, a tenth of its radius."""


@pytest.mark.parametrize("mesh", CLOSED.values(), ids=CLOSED)
def test_each_edge_is_shared_by_two_faces(mesh: Mesh) -> None:
    assert open_edges(mesh) == 0


@pytest.mark.parametrize("mesh", CLOSED.values(), ids=CLOSED)
def test_faces_wind_outwards(mesh: Mesh) -> None:
    """A path tracer takes the side that normals point to for the outside of glass."""
    assert volume(mesh) > 0


def test_normals_of_a_sphere_are_its_radii() -> None:
    mesh = sphere_points(2)
    assert np.einsum("ij,ij->i", mesh.normals, mesh.points).min() > 1 - SPHERE_REL


@pytest.mark.parametrize("sides", [6, 10, 48])
def test_a_cylinder_is_its_length_times_a_polygon(sides: int) -> None:
    mesh = bored(np.array([-3.0, 3.0]), np.array([2.0, 2.0]), hole=0.5, sides=sides)
    assert volume(mesh) == pytest.approx(6.0 * polygon(sides) * (2.0**2 - 0.5**2), rel=EXACT)
    assert extents(mesh)[:2] == pytest.approx([6.0, 4.0], rel=EXACT)


def test_a_cone_is_a_third_of_its_prism() -> None:
    mesh = revolved(np.array([0.0, 0.0, 5.0]), np.array([0.0, 2.0, 0.0]), sides=SIDES)
    assert volume(mesh) == pytest.approx(5.0 * polygon(SIDES) * 2.0**2 / 3, rel=EXACT)


def test_a_sphere_is_four_thirds_pi_of_its_radius_cubed() -> None:
    flat = polygon(SIDES) / math.pi
    assert volume(sphere(3.0)) == pytest.approx(4 / 3 * math.pi * 3.0**3 * flat, rel=FINE_REL)
    assert extents(sphere(3.0)) == pytest.approx(6.0, rel=EXACT)


@pytest.mark.parametrize("hole", [0.3, 1.0, 2.0])
def test_a_bored_sphere_depends_on_the_length_of_its_hole_alone(hole: float) -> None:
    """The napkin ring problem: pi h^3 / 6, h the length of the hole."""
    mesh = bored(3 * PROFILE, 3 * np.sqrt(1 - PROFILE**2), hole=hole, sides=SIDES)
    length = 2 * math.sqrt(3.0**2 - hole**2)
    assert volume(mesh) == pytest.approx(math.pi * length**3 / 6 * polygon(SIDES) / math.pi, rel=FINE_REL)


def test_a_box_is_the_product_of_its_sides() -> None:
    mesh = box(1.5, 2.0, 3.5)
    assert volume(mesh) == pytest.approx(1.5 * 2.0 * 3.5, rel=EXACT)
    assert extents(mesh) == pytest.approx([1.5, 2.0, 3.5], rel=EXACT)


@pytest.mark.parametrize(("radius", "thick"), [(5.0, 1.0), (3.0, 2.0)])
def test_a_ring_is_its_section_times_the_way_of_its_middle(radius: float, thick: float) -> None:
    """Pappus's theorem: 2 pi R times the area of the section, a decagon."""
    mesh = ring(radius, thick)
    expected = 2 * math.pi * radius * polygon(10) * (thick / 2) ** 2
    assert volume(mesh) == pytest.approx(expected, rel=FINE_REL)
    assert extents(mesh)[:2] == pytest.approx(2 * radius + thick, rel=EXACT)


def test_a_ring_may_be_open() -> None:
    whole, part = ring(5.0, 1.0), ring(5.0, 1.0, gap=0.25)
    assert open_edges(part) == 2 * 10  # the rims of both ends
    assert extents(part)[1] == pytest.approx(11.0, rel=2 * FINE_REL)
    assert extents(part)[0] < extents(whole)[0]


@pytest.mark.parametrize("levels", range(SPHERE_LEVELS + 1))
def test_a_sphere_of_triangles_comes_from_an_icosahedron(levels: int) -> None:
    """Each step makes four of one face; Euler: V - E + F = 2, where 2 E = 3 F."""
    mesh = sphere_points(levels)
    assert len(mesh.faces) == 20 * 4**levels
    assert len(mesh.points) == 2 + len(mesh.faces) // 2
    assert np.linalg.norm(mesh.points, axis=1) == pytest.approx(1.0, rel=EXACT)


def test_an_icosahedron_has_its_volume_and_finer_spheres_come_near_that_of_a_sphere() -> None:
    """5 (3 + sqrt 5) / 12 of the edge cubed; the edge is 1 / sin(2 pi / 5) of the radius about it."""
    edge = 1 / math.sin(2 * math.pi / 5)
    assert volume(sphere_points(0)) == pytest.approx(5 * (3 + math.sqrt(5)) / 12 * edge**3, rel=EXACT)
    assert volume(sphere_points(SPHERE_LEVELS)) == pytest.approx(4 / 3 * math.pi, rel=SPHERE_REL)


@pytest.mark.parametrize("power", [1.5, 2.0, 4.0, 10.0])
def test_a_superquadric_has_dirichlets_volume(power: float) -> None:
    """8 a b c G(1 + 1/p)^3 / G(1 + 3/p), which is that of an ellipsoid for p = 2."""
    shape = math.gamma(1 + 1 / power) ** 3 / math.gamma(1 + 3 / power)
    mesh = superquadric((2.0, 3.0, 1.5), power)
    assert volume(mesh) == pytest.approx(8 * 2.0 * 3.0 * 1.5 * shape, rel=2 * FINE_REL)
    assert extents(mesh) == pytest.approx([4.0, 6.0, 3.0], rel=FINE_REL)


def test_a_capsule_is_a_sphere_and_a_cylinder() -> None:
    mesh = capsule(1.0, 5.0)
    expected = math.pi * (4 / 3 + 3.0) * polygon(32) / math.pi
    assert volume(mesh) == pytest.approx(expected, rel=0.02)  # an arc of 16 chords
    assert extents(mesh) == pytest.approx([5.0, 2.0, 2.0], rel=FINE_REL)


def test_a_wire_has_the_length_of_its_path() -> None:
    """A coil's wire is sqrt(length^2 + (2 pi r turns)^2) long."""
    mesh = helix(2.0, 0.5, 10.0, 5)
    rows = mesh.points.reshape(-1, 8, 3).mean(axis=1)
    length = np.linalg.norm(np.diff(rows, axis=0), axis=1).sum()
    assert length == pytest.approx(math.hypot(10.0, 2 * math.pi * 2.0 * 5), rel=0.01)  # 18 chords a turn
    wire = swept(np.column_stack([np.linspace(0, 4, 9), np.zeros(9), np.zeros(9)]), 0.5, sides=8)
    assert extents(wire) == pytest.approx([4.0, 1.0, 1.0], rel=EXACT)


def test_a_mesh_keeps_its_volume_where_it_is_moved_and_grows_where_it_is_scaled() -> None:
    mesh = box(1.0, 2.0, 3.0)
    assert volume(mesh.moved(rotation(0.7, 0.3), (4.0, -2.0, 1.0))) == pytest.approx(6.0, rel=EXACT)
    assert volume(mesh.scaled((2.0, 0.5, 3.0))) == pytest.approx(18.0, rel=EXACT)


@pytest.mark.parametrize("shape", sorted({*SHAPES, "round"} - {"melon", "drop", "nugget", "baroque"}))
def test_beads_are_as_large_as_their_kind(shape: str) -> None:
    assert extents(bead(shape))[:2] == pytest.approx([6.0, 8.0], rel=FINE_REL)
