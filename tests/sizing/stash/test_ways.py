"""What can be made of the stash: as many beads as plans and closed forms say, sorted as promised."""

import math
from decimal import Decimal

import pytest

from sizing.base.errors import TargetError
from sizing.piece.fit import fit_beads
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.plan import make_plan
from sizing.stash.book import reading, writing
from sizing.stash.counts import use
from sizing.stash.details import Details
from sizing.stash.entries import Entry, entries, find
from sizing.stash.keep import keep
from sizing.stash.parts import beads_of
from sizing.stash.ways import GRADUATED, REPEAT, UNIFORM, Source, Way, ways_to_make
from tests.helpers.stash import kept, lot_fields, strand_fields

MM = 1e-6
MONEY = 1e-9
STRUNG = Piece(target_mm={"strung": 200.0}, findings=())


def stash() -> list[Entry]:
    with reading() as book:
        return entries(book)


def counts(way: Way) -> list[tuple[str, int, int]]:
    return [(need.source.entry.name, need.needed, need.left) for need in way.needs]


def test_a_uniform_piece_takes_its_length_over_that_of_a_bead() -> None:
    kept("eights", [8.0] * 20, count=30, price=Decimal(6), currency="EUR")
    [way] = ways_to_make(stash(), STRUNG)
    # 200 mm / 8 mm = 25 beads at 6 EUR / 30 each.
    assert (way.kind, counts(way), way.lacking, way.currency) == (UNIFORM, [("eights", 25, 5)], 0, "EUR")
    assert way.fits[0].strung_mm == pytest.approx(200.0, abs=MM)
    assert way.cost == pytest.approx(25 * 6 / 30, abs=MONEY)


def test_a_wrist_takes_a_regular_polygon_of_beads() -> None:
    kept("eights", [8.0] * 40)
    [way] = ways_to_make(stash(), Piece(target_mm={"wrist": 160.0}, ease_mm=0.0, findings=()))
    # N touching rounds leave pi d (1 / sin(pi / N) - 1) inside: 159.4 mm of 23, 167.4 mm of 24.
    inside = {n: math.pi * 8 * (1 / math.sin(math.pi / n) - 1) for n in range(10, 40)}
    nearest = min(inside, key=lambda n: abs(inside[n] - 160.0))
    assert counts(way) == [("eights", nearest, 40 - nearest)]
    assert way.miss_mm == pytest.approx(inside[nearest] - 160.0, abs=1e-5)


def test_what_is_lacking_is_said_and_stands_last() -> None:
    kept("few", [8.0] * 20)
    kept("enough", [10.0] * 20)
    kept("less near", [9.0] * 40)
    ways = ways_to_make(stash(), STRUNG)
    # 22 beads of 9 mm are 198 mm, 2 mm short.
    assert [counts(way) for way in ways if way.kind == UNIFORM] == [
        [("enough", 20, 0)],
        [("less near", 22, 18)],
        [("few", 25, -5)],
    ]
    assert counts(ways[-1]) == [("few", 25, -5)]
    assert ways[-1].lacking == 5


def test_repeats_of_two_share_the_length_where_nothing_is_lacking() -> None:
    kept("eights", [8.0] * 20)
    kept("twos", [2.0] * 20)
    [repeat] = [way for way in ways_to_make(stash(), STRUNG) if way.kind == REPEAT]
    assert counts(repeat) == [("eights", 20, 0), ("twos", 20, 0)]
    longer = Piece(target_mm={"strung": 210.0}, findings=())
    assert not [way for way in ways_to_make(stash(), longer) if way.kind == REPEAT]


def test_spacers_are_strung_with_beads_alone() -> None:
    fields = strand_fields([8.0, 8.0, 2.0] * 20, kinds=["bead", "bead", "spacer"])
    with writing() as book:
        keep(book, fields, details=Details(name="mixed"))
    # 200 mm of 8 and 2 mm in turn: 20 of each. Alone the spacers would come to 200 mm too, with 100 of them.
    ways = [(way.kind, [need.needed for need in way.needs]) for way in ways_to_make(stash(), STRUNG)]
    assert ways == [(UNIFORM, [25]), (REPEAT, [20, 20])]


def test_a_repeat_that_is_named_is_the_only_way() -> None:
    kept("eights", [8.0] * 10)
    kept("fours", [4.0] * 90)
    eights, fours = (Source(entry=entry, size=entry.sizes[0]) for entry in stash())
    [way] = ways_to_make(stash(), STRUNG, repeat=[eights, fours, fours])
    # 200 mm / (8 + 4 + 4) mm = 12.5: 12 and 13 repeats are equally far off, the shorter one is taken.
    assert way.kind == REPEAT
    assert counts(way) == [("eights", 12, -2), ("fours", 24, 66)]
    assert abs(way.miss_mm) == pytest.approx(8.0, abs=MM)


def test_a_graduated_strand_has_its_largest_beads_in_the_middle() -> None:
    with writing() as book:
        keep(book, lot_fields([6.0] * 20 + [8.0] * 20 + [10.0] * 20), details=Details(name="taper"))
    [way] = [way for way in ways_to_make(stash(), STRUNG) if way.kind == GRADUATED]
    along = [bead.along_mm for bead in way.fits[0].sequence]
    assert along == along[::-1]
    assert along[: len(along) // 2] == sorted(along[: len(along) // 2])
    assert max(along) == along[len(along) // 2] == 10.0
    assert sum(need.needed for need in way.needs) == len(along)
    assert way.fits == fit_beads(way.piece, target_from_piece(way.piece))[:1]  # type: ignore[arg-type]


def test_a_graduated_strand_is_made_of_lots_of_one_colour() -> None:
    for mm in (6.0, 8.0, 10.0):
        kept(f"blue {mm:g}", [mm] * 20)
    kept("green", [7.0] * 20, colour=(60, 120, 70))
    [way] = [way for way in ways_to_make(stash(), STRUNG) if way.kind == GRADUATED]
    assert [need.source.entry.name for need in way.needs] == ["blue 10", "blue 8", "blue 6"]


def test_a_run_of_sizes_takes_one_piece_of_each() -> None:
    kept("eights", [8.0] * 60)
    [way] = ways_to_make(stash(), Piece(target_mm={"strung": 160.0}, findings=(), sizes="20 cm, 24 cm"))
    assert [fit.count for fit in way.fits] == [20, 25, 30]
    assert counts(way) == [("eights", 75, -15)]


def test_costs_are_added_in_one_currency_only() -> None:
    kept("euros", [8.0] * 20, price=Decimal(10), currency="EUR")
    kept("pounds", [2.0] * 20, price=Decimal(4), currency="GBP")
    kept("unknown", [10.0] * 20, currency="EUR")
    costs = {
        way.needs[0].source.entry.name: way.cost
        for way in ways_to_make(stash(), STRUNG)
        if way.kind == UNIFORM
    }
    assert costs == {
        "euros": pytest.approx(25 * 0.5, abs=MONEY),
        "pounds": pytest.approx(100 * 0.2, abs=MONEY),
        "unknown": None,
    }
    [mixed] = [
        way
        for way in ways_to_make(stash(), STRUNG)
        if way.kind == REPEAT
        and way.needs[0].source.entry.name == "euros"
        and way.needs[1].source.entry.name == "pounds"
    ]
    assert mixed.cost is None


def test_beads_that_are_used_up_make_nothing() -> None:
    kept("eights", [8.0] * 40)
    with writing() as book:
        use(book, find(book, "eights"), 40)
    assert ways_to_make(stash(), STRUNG) == ()


def test_a_target_is_needed_and_sizes_are_read() -> None:
    for wanted, why in (
        (Piece(), "no target is given"),
        (Piece(target_mm={"strung": 160.0}, sizes="large"), "sizes: "),
    ):
        with pytest.raises(TargetError, match=why):
            ways_to_make(stash(), wanted)


def test_a_plan_takes_the_kept_beads_as_they_were_measured() -> None:
    kept("eights", [8.0] * 20, material="quartz", hole_mm=1.0, price=Decimal(10), currency="EUR")
    with writing() as book:
        entry = keep(book, strand_fields([8.0, 8.0, 2.0] * 8 + [8.0, 8.0]), details=Details(name="anklet"))
    with reading() as book:
        [part] = beads_of(book, find(book, "eights")).beads
        repeat = beads_of(book, entry)
    assert (part.name, part.material, part.hole_mm, part.cost, part.have) == (
        "eights",
        "quartz",
        1.0,
        0.5,
        20,
    )
    assert [round(part.along_mm, 6) for part in repeat.beads] == [8.0, 8.0, 2.0]
    assert {part.along_mm: part.have for part in repeat.beads} == {8.0: 18, 2.0: 8}
    plan = make_plan(Piece(beads=repeat.beads, layout=repeat.layout, target_mm={"strung": 180.0}))
    assert plan.best.count % 3 in (0, 2)
