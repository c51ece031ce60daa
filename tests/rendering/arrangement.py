"""Lays strands, loops, loose beads and tools on a bed at z = 0.

World x right, y up, z up, in mm about the middle of the bed.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tests.rendering import clutter
from tests.rendering.courses import STEP, closed_curve, curve, drawn_line, place_at, rotation
from tests.rendering.meshes import Array, Mesh, swept
from tests.rendering.surfaces import Surface, any_surface, metal
from tests.rendering.things import (
    FLAT,
    BeadKind,
    Kind,
    Part,
    any_bead_kind,
    bead_mesh,
    chain,
    clasp,
    cover_kind,
    spacer_kind,
    stopper,
)

_TRIES = 12
_TINY = 0.3
"""Share of lots of the smallest beads, which jump rings and crimps resemble."""


@dataclass(frozen=True, kw_only=True)
class Strung:
    """What hangs on one string, in order.

    Attributes
    ----------
    course : ndarray, shape (N, 2)
        The string from above, in steps of `STEP`; a closed one ends where it begins.
    closed : bool
    spans : ndarray, shape (B, 2)
        Where each strung part begins and ends along the course, mm.
    across, heights : ndarray, shape (B,)
        Size across the string, level with the bed, and height of the string in the part, mm.
    kinds, owners : ndarray, shape (B,), int
    stoppers : ndarray, shape (S, 2)
        Where what holds the ends begins and ends, mm.
    """

    course: Array
    closed: bool
    spans: Array
    across: Array
    heights: Array
    kinds: NDArray[np.int64]
    owners: NDArray[np.int64]
    stoppers: Array


@dataclass(frozen=True, kw_only=True)
class Laid:
    """Parts in their places, the discs (x, y, radius) that they take, and their string if they have one."""

    parts: list[Part]
    discs: Array
    strung: Strung | None = None


@dataclass
class Table:
    """What lies within `half` (x, y) about the middle: parts, strings, and discs that are taken."""

    half: tuple[float, float]
    parts: list[Part] = field(default_factory=list)
    strings: list[Strung] = field(default_factory=list)
    taken: list[Array] = field(default_factory=list)
    owners: int = 0

    def is_free(self, discs: Array, *, room: float = 0.3) -> bool:
        """Whether discs (N, 3) touch nothing."""
        if not self.taken:
            return True
        others = np.concatenate(self.taken)
        apart = np.hypot(*(discs[:, None, :2] - others[None, :, :2]).transpose(2, 0, 1))
        return bool((apart > discs[:, None, 2] + others[None, :, 2] + room).all())

    def lay(self, laid: Laid) -> None:
        """Add parts."""
        self.parts += laid.parts
        self.taken.append(laid.discs)
        if laid.strung is not None:
            self.strings.append(laid.strung)

    def owner(self) -> int:
        """Return a new number of a piece; 0 where a byte holds no more."""
        self.owners = min(self.owners + 1, 255)
        return self.owners if self.owners < 255 else 0


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing on a string: its mesh with the hole along x."""

    mesh: Mesh
    surface: Surface
    kind: Kind

    @property
    def along(self) -> float:
        """How long it is on the string, mm."""
        return float(np.ptp(self.mesh.points[:, 0]))

    @property
    def across(self) -> float:
        """How wide it is seen from above, mm."""
        return float(np.ptp(self.mesh.points[:, 1]))


def item(of: BeadKind, number: int, rng: np.random.Generator) -> Item:
    """Return one bead of a kind, rolled about its hole as it comes to lie."""
    mesh = bead_mesh(of, rng)
    roll = rng.choice([0, 0, 0.15, np.pi / 2]) if of.shape in FLAT else rng.uniform(0, 2 * np.pi)
    mesh = mesh.moved(rotation(0.0, float(roll)), (0, 0, 0))
    surface = of.surfaces[of.order[number % len(of.order)] % len(of.surfaces)]
    return Item(mesh=mesh, surface=surface, kind=of.kind)


def strung_items(length: float, rng: np.random.Generator) -> list[Item]:
    """Draw beads, with spacers among some, up to a length."""
    main = any_bead_kind(rng)
    kinds = [main]
    if rng.random() < 0.25:
        kinds.append(any_bead_kind(rng, across=main.across * float(rng.uniform(0.4, 1.2))))
    spacers = spacer_kind(main, rng) if rng.random() < 0.45 else None
    every = int(rng.integers(1, 7))
    graded = rng.random() < 0.15
    out: list[Item] = []
    for k in range(400):
        of = kinds[int(rng.random() < 0.5) % len(kinds)]
        if graded:
            grown = 0.6 + 0.6 * math.sin(math.pi * min(sum(i.along for i in out) / length, 1))
            of = replace(of, across=of.across * grown, along=of.along * grown)
        out.append(item(of, k, rng))
        if spacers is not None and (k + 1) % every == 0:
            out.append(item(spacers, k, rng))
        if sum(i.along for i in out) > length:
            break
    return out


@dataclass(frozen=True, kw_only=True)
class _Row:
    """Items in their places: parts, discs, points of the string in them (M, 3), spans along it (B, 2)."""

    parts: list[Part]
    discs: Array
    through: Array
    spans: Array


def _in_row(items: Sequence[Item], course: Array, gaps: Array, *, start: float, height: float | None) -> _Row:
    """Lay items along a course; with no height each rests on the bed."""
    parts, discs, through, spans = [], [], [], []
    along = start
    for one, gap in zip(items, gaps, strict=True):
        place, heading = place_at(course, along + one.along / 2)
        z = -float(one.mesh.points[:, 2].min()) if height is None else height
        mesh = one.mesh.moved(rotation(heading), (*place, z))
        parts.append(Part(mesh=mesh, surface=one.surface, kind=one.kind))
        discs.append((*place, max(one.across / 2, min(one.along / 2, 4.0))))
        spans.append((along, along + one.along))
        through += [np.r_[place_at(course, end)[0], z] for end in spans[-1]]
        along += one.along + gap
    return _Row(
        parts=parts,
        discs=np.array(discs).reshape(-1, 3),
        through=np.array(through).reshape(-1, 3),
        spans=np.array(spans).reshape(-1, 2),
    )


def _strung(
    items: Sequence[Item], row: _Row, course: Array, *, closed: bool, stoppers: Sequence[tuple[float, float]]
) -> Strung:
    return Strung(
        course=course,
        closed=closed,
        spans=row.spans,
        across=np.array([one.across for one in items]),
        heights=row.through[::2, 2],
        kinds=np.array([one.kind for one in items], dtype=np.int64),
        owners=np.array([part.owner for part in row.parts], dtype=np.int64),
        stoppers=np.array(stoppers).reshape(-1, 2),
    )


def _string(rng: np.random.Generator, thick: float) -> Surface:
    return metal(rng) if thick > 0.5 or rng.random() < 0.5 else any_surface(rng, "opaque")


def _owned(row: _Row, table: Table) -> _Row:
    return replace(row, parts=[replace(part, owner=table.owner()) for part in row.parts])


def _end(
    rod: float, at: Array, heading: float, height: float, rng: np.random.Generator
) -> tuple[list[Part], float]:
    """Return a stopper that begins at a place and reaches along a heading, and its length."""
    pieces, length = stopper(rod, rng)
    roll = rotation(0.0, float(rng.choice([0, 0, np.pi / 2, rng.uniform(0, 6)])))
    turned = [p.moved(roll, np.zeros(3)) for p in pieces]
    low = min(float(p.mesh.points[:, 2].min()) for p in turned)
    z = max(height, -low) if rng.random() < 0.8 else height
    return [p.moved(rotation(heading), np.r_[at, z]) for p in turned], length


def strand(table: Table, rng: np.random.Generator, place: Callable[[Array], Array]) -> Laid:
    """Draw a strand on a rod or a wire with what holds its ends."""
    rod = rng.random() < 0.5
    items = strung_items(float(rng.uniform(25, 150 if rod else 190)), rng)
    if rng.random() < 0.03:
        items = []  # an empty rod
    gaps = np.where(rng.random(len(items)) < 0.15, rng.exponential(1.5, len(items)), 0.0)
    if rng.random() < 0.07 and items:
        gaps = gaps + rng.uniform(3, 14)
    total = sum(i.along for i in items) + float(gaps[:-1].sum())
    before, after = rng.uniform(4, 45, 2)
    course = place(curve(before + total + after + 8, rng, straight=rod or rng.random() < 0.1))
    thick = float(rng.uniform(0.8, 1.8)) if rod else float(rng.uniform(0.25, 0.7))
    high = max([float(np.abs(i.mesh.points[:, 2]).max()) for i in items], default=1.0)
    height = high + float(rng.choice([0, 0, rng.uniform(0, 3)])) if rod else None
    row = _owned(_in_row(items, course, gaps, start=before, height=height), table)
    parts, stoppers = list(row.parts), []
    for along, ahead in ((before, -1), (before + total, 1)):
        if rng.random() < 0.75:
            first = along + ahead * float(rng.choice([0, 0, rng.uniform(0, 6)]))
            at, heading = place_at(course, first)
            held, length = _end(thick, at, heading + (np.pi if ahead < 0 else 0), height or high, rng)
            parts += held
            stoppers.append(tuple(sorted((first, first + ahead * length))))
    line = _string_line(course, row, rod=height, ends=(before, before + total))
    parts.append(Part(mesh=swept(line, thick / 2, sides=8), surface=_string(rng, thick), kind=Kind.STRING))
    discs = np.concatenate([row.discs, np.c_[course[::8], np.full(len(course[::8]), 2.0)]])
    string = _strung(items, row, course, closed=False, stoppers=stoppers) if items else None
    return Laid(parts=parts, discs=discs, strung=string)


def _string_line(course: Array, row: _Row, *, rod: float | None, ends: tuple[float, float]) -> Array:
    """Return the points of a rod, or of a wire that comes down to the bed beside its beads, shape (N, 3)."""
    last = (len(course) - 1) * STEP
    if rod is not None:
        return drawn_line(np.array([np.r_[course[0], rod], *row.through, np.r_[course[-1], rod]]))
    left = [np.r_[place_at(course, ends[0] * s)[0], 0.3] for s in (0.05, 0.3, 0.6, 0.85)]
    right = [np.r_[place_at(course, ends[1] + (last - ends[1]) * s)[0], 0.3] for s in (0.15, 0.4, 0.7, 0.98)]
    return drawn_line(np.array([*left, *row.through, *right]))


def loop(table: Table, rng: np.random.Generator, place: Callable[[Array], Array]) -> Laid:
    """Draw a finished piece, closed by its clasp, some with an extender chain and an end bead."""
    items = strung_items(float(rng.uniform(90, 230)), rng)
    if rng.random() < 0.75:
        of = cover_kind(rng)
        items = [item(of, 0, rng), *items, item(of, 0, rng)]
    pieces, closing = clasp(rng)
    total = sum(i.along for i in items) + 0.05 * len(items)
    slack = float(rng.uniform(1, 3))
    course = place(closed_curve(total + closing + 2 * slack, rng))
    row = _owned(_in_row(items, course, np.full(len(items), 0.05), start=0.0, height=None), table)
    at, far = (place_at(course, total + slack + s * closing)[0] for s in (0, 1))
    heading = math.atan2(*(far - at)[::-1])
    low = min(float(p.mesh.points[:, 2].min()) for p in pieces)
    parts = [*row.parts, *(p.moved(rotation(heading), np.r_[at, -low]) for p in pieces)]
    thick = float(rng.uniform(0.25, 0.6))
    surface = _string(rng, thick)
    for path in ([*row.through, np.r_[at, 0.8]], [np.r_[far, 0.8], row.through[0]]):
        line = drawn_line(np.array(path))
        if len(line) > 2:
            parts.append(Part(mesh=swept(line, thick / 2, sides=8), surface=surface, kind=Kind.STRING))
    discs = [row.discs, np.array([np.r_[at, 4.0], np.r_[far, 4.0]])]
    if rng.random() < 0.5:
        hanging = _extender(table, far, far - course.mean(axis=0), rng)
        parts += hanging.parts
        discs.append(hanging.discs)
    return Laid(
        parts=parts,
        discs=np.concatenate(discs),
        strung=_strung(items, row, course, closed=True, stoppers=()),
    )


def _extender(table: Table, at: Array, outward: Array, rng: np.random.Generator) -> Laid:
    """Return a chain that hangs from a clasp, and the bead at its end."""
    heading = math.atan2(outward[1], outward[0]) + float(rng.normal(0, 0.4))
    ahead, length = np.array([math.cos(heading), math.sin(heading)]), float(rng.uniform(15, 55))
    parts = [p.moved(rotation(heading), np.r_[at, 1.0]) for p in chain(length, rng)]
    end = item(any_bead_kind(rng, across=float(rng.uniform(3, 8))), 0, rng)
    where = at + (length + end.along / 2 + 0.8) * ahead
    low = float(end.mesh.points[:, 2].min())
    bead = end.mesh.moved(rotation(heading), np.r_[where, -low])
    parts.append(Part(mesh=bead, surface=end.surface, kind=Kind.BEAD, owner=table.owner()))
    steps = np.linspace(0, 1, 12)[:, None]
    return Laid(parts=parts, discs=np.c_[at + (where - at) * steps, np.full(12, 4.0)])


def loose_beads(table: Table, rng: np.random.Generator, count: int, kinds: Sequence[BeadKind]) -> None:
    """Lay beads one by one: some touch others, some are heaped in one place."""
    touch, own = float(rng.choice([0.1, 0.5, 0.9])), []
    centre, spread = rng.uniform(-0.5, 0.5, 2) * table.half, rng.uniform(0.2, 1.2)
    for k in range(count):
        of = kinds[rng.integers(len(kinds))]
        one = item(of, k, rng)
        mesh = one.mesh
        if of.along < 0.7 * of.across or rng.random() < 0.1:
            mesh = mesh.moved(np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0.0]]), (0, 0, 0))
        mesh = mesh.moved(rotation(float(rng.uniform(0, 2 * np.pi))), (0, 0, 0))
        radius = float(np.hypot(mesh.points[:, 0], mesh.points[:, 1]).max())
        for _ in range(_TRIES):
            if own and rng.random() < touch:
                x, y, r = own[rng.integers(len(own))]
                angle = rng.uniform(0, 2 * np.pi)
                at = np.array([x, y]) + (r + radius + 0.02) * np.array([math.cos(angle), math.sin(angle)])
            else:
                at = centre + rng.normal(0, 0.5, 2) * table.half * spread
            disc = np.array([[*at, radius]])
            if (np.abs(at) < table.half).all() and table.is_free(disc, room=0.0):
                z = -float(mesh.points[:, 2].min())
                lying = mesh.moved(np.eye(3), (*at, z))
                part = Part(mesh=lying, surface=one.surface, kind=Kind.BEAD, owner=table.owner())
                table.lay(Laid(parts=[part], discs=disc))
                own.append((*at, radius))
                break


def _placed(rng: np.random.Generator, half: tuple[float, float]) -> Callable[[Array], Array]:
    """Return a way to lay a course somewhere, mostly within the table."""

    def place(course: Array) -> Array:
        room = np.maximum(np.array(half) - np.ptp(course, axis=0) / 2 - 6, 4.0)
        return course + rng.uniform(-1, 1, 2) * room

    return place


Maker = Callable[[Table, np.random.Generator, Callable[[Array], Array]], Laid]


def try_to_lay(table: Table, rng: np.random.Generator, make: Maker) -> None:
    """Draw something anew until there is room for it."""
    for _ in range(_TRIES):
        owners = table.owners
        laid = make(table, rng, _placed(rng, table.half))
        if table.is_free(laid.discs):
            table.lay(laid)
            return
        table.owners = owners


def odd_piece(choices: Sequence[Callable[[np.random.Generator], tuple[Part, ...]]]) -> Maker:
    """Return a maker of one of several kinds of tools or scraps."""

    def make(table: Table, rng: np.random.Generator, _place: Callable[[Array], Array]) -> Laid:
        parts = choices[rng.integers(len(choices))](rng)
        turn, at = rotation(float(rng.uniform(0, 2 * np.pi))), rng.uniform(-1.1, 1.1, 2) * table.half
        moved = [p.moved(turn, np.r_[at, 0.0]) for p in parts]
        points = np.concatenate([p.mesh.points[:, :2] for p in moved])
        points = points[:: max(1, len(points) // 150)]
        return Laid(parts=moved, discs=np.c_[points, np.full(len(points), 1.0)])

    return make


def arranged(rng: np.random.Generator, half: tuple[float, float], sort: str = "") -> Table:
    """Draw a table: strands, loops or loose beads (`sort`, or any), strays, findings and tools."""
    table = Table(half=half)
    drawn = str(rng.choice(["strand", "several", "loop", "loose", "empty"], p=[0.3, 0.14, 0.22, 0.3, 0.04]))
    sort = sort or drawn
    for _ in range({"strand": 1, "several": int(rng.integers(2, 5))}.get(sort, 0)):
        try_to_lay(table, rng, strand)
    for _ in range(int(rng.integers(1, 3)) if sort == "loop" else 0):
        try_to_lay(table, rng, loop)
    for _ in range(int(rng.choice([0, 1, 1, 2, 3]))):
        try_to_lay(table, rng, odd_piece(clutter.SMALL))
    if rng.random() < 0.45:
        try_to_lay(table, rng, odd_piece(clutter.LARGE))
    tiny = sort == "loose" and rng.random() < _TINY
    across = float(np.exp(rng.uniform(np.log(1.8), np.log(4.0)))) if tiny else None
    kinds = [any_bead_kind(rng, across=across) for _ in range(int(rng.choice([1, 1, 2, 4])))]
    many = int(rng.choice([0, 0, 1, 3, 6])) * (sort != "empty")
    if sort == "loose":
        many = int(np.exp(rng.uniform(np.log(5), np.log(110))))
    loose_beads(table, rng, many, kinds)
    return table
