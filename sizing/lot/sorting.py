"""Sorts a lot by size into heaps and counts each heap."""

from dataclasses import dataclass
from typing import Literal

from sizing.base.target import Target
from sizing.lot.classes import (
    PEARL_STEP_MM,
    Heap,
    SizeClass,
    finest_step_mm,
    natural_classes,
    pearl_classes,
    sort_into,
    step_classes,
    usual_classes,
)
from sizing.lot.sizes import Dimension, Sizes, sizes_of, unmeasured
from sizing.lot.tally import STRAND, Tally, tally
from vision.common.records import LooseBead, Lot

Method = Literal["usual", "step", "pearl", "natural"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SortedLot:
    """A lot sorted into heaps.

    Attributes
    ----------
    lot : Lot
    dimension : str
        The dimension sorted by: `width` or `length`.
    method : str
        `usual` sizes, multiples of a `step`, `pearl` classes or `natural` groups.
    target : Target
        The piece of which each tally states the share.
    sizes : Sizes
        The measured beads with their size in that dimension.
    heaps : tuple of Heap
        By rising size.
    tallies : tuple of Tally
        One for each heap.
    whole : Tally
        All measured beads.
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
        """Whether the classes are so narrow that fewer than half of the beads can be decided."""
        widths = [each.high_mm - each.low_mm for heap in self.heaps for each in heap.classes]
        return self.method != "natural" and bool(widths) and min(widths) < finest_step_mm(self.sizes)


def sort_lot(
    lot: Lot,
    *,
    dimension: Dimension = "width",
    method: Method = "usual",
    step_mm: float = PEARL_STEP_MM,
    target: Target | None = None,
) -> SortedLot:
    """Sort a lot into the usual sizes, classes of a step, pearl classes or natural groups.

    Parameters
    ----------
    dimension : str, keyword-only
        `width`, the smallest caliper size, or `length`, the largest.
    method : str, keyword-only
        `usual` sizes, multiples of a `step`, `pearl` classes, or the `natural` groups that the sizes
        form by themselves.
    step_mm : float, keyword-only
        Width of the classes, for `step` and `pearl`.
    target : Target or None, keyword-only
        The piece of which shares are taken; None for a 16 in strand.

    Raises
    ------
    TargetError
        The target takes too many beads.

    Examples
    --------
    >>> from tests.helpers.lots import lot_of
    >>> result = sort_lot(lot_of([6.0, 6.05, 6.5, 8.1]))
    >>> [(heap.name, len(heap.index)) for heap in result.heaps]
    [('6 mm', 2), ('between 6 mm and 7 mm', 1), ('8 mm', 1)]
    """
    sizes = sizes_of(lot, dimension)
    heaps = sort_into(_classes(sizes, method, step_mm=step_mm), sizes, relative=method == "natural")
    target = STRAND if target is None else target
    return SortedLot(
        lot=lot,
        dimension=dimension,
        method=method,
        target=target,
        sizes=sizes,
        heaps=heaps,
        tallies=tuple(tally(lot, heap.index, target=target) for heap in heaps),
        whole=tally(lot, target=target),
        unmeasured=unmeasured(lot),
    )


def _classes(sizes: Sizes, method: Method, *, step_mm: float) -> tuple[SizeClass, ...]:
    """Return the classes of a method."""
    if method == "usual":
        return usual_classes()
    if method == "natural":
        return natural_classes(sizes)
    return step_classes(step_mm, sizes) if method == "step" else pearl_classes(sizes, step_mm)
