"""A lot sorted: heaps with their tallies, and what to say about the sorting."""

from dataclasses import dataclass
from typing import Literal

from sizing.classes import (
    Heap,
    SizeClass,
    finest_step_mm,
    natural_classes,
    sort_into,
    step_classes,
    usual_classes,
)
from sizing.sizes import Dimension, Sizes, sizes_of, unmeasured
from sizing.tally import STRAND, Tally, tally
from sizing.target import Target
from vision.records import LooseBead, Lot

Method = Literal["usual", "step", "natural"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SortedLot:
    """A lot in heaps.

    Attributes
    ----------
    lot : Lot
    dimension : str
        What was sorted by: `width` or `length`.
    method : str
        `usual` sizes, equal `step`, `natural` groups.
    target : Target
        Piece that shares are taken of.
    sizes : Sizes
        Of the measured beads, along the dimension.
    heaps : tuple of Heap
        By rising size.
    tallies : tuple of Tally
        One a heap.
    whole : Tally
        Of all measured beads.
    unmeasured : tuple of LooseBead
    """

    lot: Lot
    dimension: Dimension
    method: Method
    target: Target
    sizes: Sizes
    heaps: tuple[Heap, ...]
    tallies: tuple[Tally, ...]
    whole: Tally
    unmeasured: tuple[LooseBead, ...]

    @property
    def too_fine(self) -> bool:
        """Whether the classes are narrower than the doubt of a usual bead, so that they decide little."""
        widths = [each.high_mm - each.low_mm for heap in self.heaps for each in heap.classes]
        return self.method != "natural" and bool(widths) and min(widths) < finest_step_mm(self.sizes)


def sort_lot(
    lot: Lot,
    *,
    dimension: Dimension = "width",
    step_mm: float | None = None,
    natural: bool = False,
    target: Target | None = None,
) -> SortedLot:
    """Sort a lot into the usual sizes, classes of a step, or natural groups.

    Parameters
    ----------
    dimension : str, keyword-only
        `width`, the smallest caliper size, or `length`, the largest.
    step_mm : float or None, keyword-only
        Width of the classes; None for the usual sizes.
    natural : bool, keyword-only
        Sort into the groups that the sizes themselves form.
    target : Target or None, keyword-only
        Piece that shares are taken of; a 16 inch strand for None.

    Raises
    ------
    TargetError
        The target takes more beads than anyone strings.
    """
    sizes = sizes_of(lot, dimension)
    heaps = sort_into(_classes(sizes, step_mm, natural=natural), sizes, relative=natural)
    target = STRAND if target is None else target
    return SortedLot(
        lot=lot,
        dimension=dimension,
        method="natural" if natural else "usual" if step_mm is None else "step",
        target=target,
        sizes=sizes,
        heaps=heaps,
        tallies=tuple(tally(lot, heap.index, target=target) for heap in heaps),
        whole=tally(lot, target=target),
        unmeasured=unmeasured(lot),
    )


def _classes(sizes: Sizes, step_mm: float | None, *, natural: bool) -> tuple[SizeClass, ...]:
    """Return the classes asked for."""
    if natural:
        return natural_classes(sizes)
    return usual_classes() if step_mm is None else step_classes(step_mm, sizes)
