"""Kept beads, what matches them and what they make, in words."""

from decimal import ROUND_HALF_UP, Decimal

from sizing.base.units import format_mm
from sizing.report.sentences.phrases import counted, miss
from sizing.stash.colours import colour_word
from sizing.stash.entries import Entry, Size
from sizing.stash.matching import Match
from sizing.stash.ways import UNIFORM, Need, Way

_CENT = Decimal("0.01")


def size_phrase(size: Size) -> str:
    """Return a size with its colour: `8.0 mm, blue`; of beads that are not round `5.9 x 6.4 mm, blue`."""
    along, across = (format_mm(mm) for mm in (size.along_mm, size.across_mm))
    both = along if along == across else f"{along.removesuffix(' mm')} x {across}"
    return f"{both}, {colour_word(size.colour_rgb)}"


def price_phrase(amount: Decimal | float, currency: str) -> str:
    """Return an amount of money to the cent: `12.50 EUR`."""
    cents = Decimal(str(amount)).quantize(_CENT, ROUND_HALF_UP)
    return f"{cents} {currency}".rstrip()


def source_name(entry: Entry, size: Size) -> str:
    """Name the beads of a size: by their entry, and by their size where it has several."""
    return f"{entry.name}, size {size.place}" if len(entry.sizes) > 1 else entry.name


def entry_sentence(entry: Entry) -> str:
    """Say what an entry holds now: `3, blue glass: 40 beads of 8.0 mm, blue`."""
    sizes = "; ".join(f"{counted(size.count, size.kind)} of {size_phrase(size)}" for size in entry.sizes)
    rest = entry.count - sum(size.count for size in entry.sizes if size.kind == "bead")
    other = f"; {counted(rest, 'other bead')}" if rest else ""
    return f"{entry.number}, {entry.name}: {sizes}{other}"


def match_sentence(match: Match) -> str:
    """Say what matches, and how certain that is."""
    likely = round(100 * match.same_size)
    shown = "over 99" if likely == 100 else f"{likely}"
    return (
        f"{source_name(match.entry, match.size)}: {counted(match.size.count, match.size.kind)} of "
        f"{size_phrase(match.size)}; of one size with {shown} % probability, colours differ by "
        f"{match.colour_difference:.1f}"
    )


def way_sentence(way: Way) -> str:
    """Say what a way takes, how it fits and what it costs."""
    pieces = f" for {len(way.fits)} pieces" if len(way.fits) > 1 else ""
    kind = "" if way.kind == UNIFORM else f"{way.kind}: "
    at_worst = "at worst " if pieces else ""
    cost = f"; costs {price_phrase(way.cost, way.currency)}" if way.cost is not None else ""
    needs = " + ".join(map(need_phrase, way.needs))
    return f"{kind}{needs}{pieces}; {at_worst}{miss(way.miss_mm)}{cost}"


def need_phrase(need: Need) -> str:
    """Say how many beads are needed, and how many are left over or lacking."""
    rest = f"{need.left} left" if need.left >= 0 else f"{-need.left} lacking"
    return f"{need.needed} of {source_name(need.source.entry, need.source.size)} ({rest})"
