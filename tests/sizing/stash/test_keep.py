"""Kept beads come back as they were measured and described; what cannot be is refused in one line."""

import math
from decimal import Decimal

import numpy as np
import pytest

from sizing.base.errors import PieceError, StashError
from sizing.report.records.head import FORMAT as PRINTED_FORMAT
from sizing.stash.book import reading, writing
from sizing.stash.counts import recount, use
from sizing.stash.details import Details
from sizing.stash.entries import changes, entries, find
from sizing.stash.keep import describe, forget, keep
from sizing.stash.measurement import FORMAT
from sizing.stash.photos import thumbnail
from tests.helpers.stash import check_fields, kept, lot_fields, strand_fields

SUM_MM = 1e-9
DETAILS = Details(
    name="blue glass",
    source="market, third stall",
    price=Decimal("12.50"),
    currency="EUR",
    material="soda-lime glass",
    hole_mm=1.2,
    note="a little darker\nthan the last",
    date="2026-03-14",
)


def test_a_strand_comes_back_as_it_was_kept() -> None:
    with writing() as book:
        made = keep(
            book,
            strand_fields([8.0] * 25),
            details=DETAILS,
            thumbnail=thumbnail(np.full((30, 40, 3), 120, np.uint8)),
        )
    with reading() as book:
        [found] = entries(book)
        assert found == made == find(book, "blue  glass") == find(book, made.number) == find(book, "1")
    assert (found.form, found.details, found.count, found.kept) == ("strand", DETAILS, 25, 25)
    [size] = found.sizes
    assert size.along_mm == pytest.approx(8.0, abs=SUM_MM)
    assert (size.measured, size.count, size.colour_rgb) == (25, 25, (40, 60, 120))
    assert found.bead_cost == Decimal("0.5")


def test_a_lot_has_the_sizes_it_was_sorted_into() -> None:
    with writing() as book:
        made = keep(book, lot_fields([6.0] * 5 + [8.0] * 7), details=Details(name="mixed"))
    assert [(size.place, size.along_mm, size.count) for size in made.sizes] == [(1, 6.0, 5), (2, 8.0, 7)]
    assert made.target == "strung length"


def test_a_lot_checked_against_its_label_is_of_one_size() -> None:
    with writing() as book:
        made = keep(book, check_fields([7.9, 8.0, 8.1, 8.0], "8mm"), details=Details(name="delivery"))
    [size] = made.sizes
    assert size.along_mm == pytest.approx(8.0, abs=SUM_MM)
    assert size.count == made.count == 4


def test_covers_are_not_kept_and_spacers_are_a_size_of_their_own_that_counts_as_none() -> None:
    kinds = ["cover", *["bead"] * 10, "spacer", *["bead"] * 10, "cover"]
    sizes = [3.0, *[8.0] * 10, 2.0, *[8.0] * 10, 3.0]
    fields = strand_fields(sizes, kinds=kinds)
    fields["beads"][0]["colour_rgb"] = fields["beads"][11]["colour_rgb"] = [255, 255, 255]
    with writing() as book:
        made = keep(book, fields, details=Details(name="finished"))
        repeat = strand_fields([8.0, 8.0, 2.0] * 8, kinds=["bead", "bead", "spacer"])
        mixed = keep(book, repeat, details=Details(name="repeat"))
    assert {size.count: size.colour_rgb for size in made.sizes} == {20: (40, 60, 120), 1: (255, 255, 255)}
    assert (made.count, made.kept) == (20, 20)
    assert {(size.along_mm, size.kind): size.count for size in mixed.sizes} == {
        (8.0, "bead"): 16,
        (2.0, "spacer"): 8,
    }
    assert (mixed.count, mixed.kept) == (16, 16)


def test_spacers_are_used_and_counted_for_themselves() -> None:
    fields = strand_fields([8.0, 8.0, 2.0] * 8, kinds=["bead", "bead", "spacer"])
    with writing() as book:
        made = keep(book, fields, details=Details(name="repeat", price=Decimal(32), currency="EUR"), count=64)
        [beads, spacers] = made.sizes if made.sizes[0].kind == "bead" else made.sizes[::-1]
        assert (made.count, beads.count, spacers.count, made.bead_cost) == (64, 64, 8, Decimal("0.5"))
        assert use(book, made, 10).count == 54
        fewer = use(book, find(book, "repeat"), 3, size=spacers.place)
        assert [size.count for size in fewer.sizes if size.kind == "spacer"] == [5]
        assert fewer.count == recount(book, fewer, 20, size=spacers.place).count == 54


def test_a_thumbnail_is_one_of_ours() -> None:
    with writing() as book, pytest.raises(ValueError, match="must be made by"):
        keep(book, strand_fields([8.0] * 5), details=DETAILS, thumbnail=b"<script>")


def test_beads_that_belong_to_no_size_count_too() -> None:
    # Of a lot the single bead of 10 mm is no size of its own.
    with writing() as book:
        made = keep(book, lot_fields([6.0] * 5 + [8.0] * 7 + [10.0]), details=Details(name="mixed"))
    assert [size.count for size in made.sizes] == [5, 7]
    assert made.count == made.kept == 13


def test_a_count_that_was_typed_stands_for_the_measured_one() -> None:
    assert kept("blue", [8.0] * 20, count=120).sizes[0].count == 120
    with writing() as book, pytest.raises(StashError, match="fewer than the 12 that were measured"):
        keep(book, lot_fields([6.0] * 5 + [8.0] * 7), details=Details(name="mixed"), count=11)
    for count in (0, -3, 10**7):
        with pytest.raises(StashError, match="out of reason"):
            kept("green", [8.0] * 20, count=count)


def test_a_name_is_given_once() -> None:
    kept("blue", [8.0] * 5)
    with pytest.raises(StashError, match=r"already has an entry 'blue': choose another name"):
        kept(" blue ", [6.0] * 5)
    green = kept("green", [6.0] * 5)
    with writing() as book, pytest.raises(StashError, match="already has an entry"):
        describe(book, green, Details(name="blue"))


def test_describing_again_replaces_what_was_said() -> None:
    made = kept("blue", [8.0] * 5, note="old")
    with writing() as book:
        again = describe(book, made, DETAILS)
    assert again.details == DETAILS
    assert (again.uuid, again.count) == (made.uuid, made.count)


def test_the_count_is_the_sum_of_its_changes() -> None:
    made = kept("blue", [8.0] * 40)
    with writing() as book:
        assert use(book, made, 22, why="anklet").count == 18
        assert recount(book, find(book, "blue"), 17).count == 17
        found = find(book, "blue")
        rows = changes(book, found)
    assert [(row.beads, row.why) for row in rows] == [(40, "kept"), (-22, "anklet"), (-1, "counted")]
    assert sum(row.beads for row in rows) == found.count == found.sizes[0].count
    assert found.kept == 40


@pytest.mark.parametrize("beads", [0, -1, 41])
def test_no_more_is_taken_than_there_is(beads: int) -> None:
    made = kept("blue", [8.0] * 40)
    with writing() as book, pytest.raises(StashError, match="which has 40: take 1 to 40"):
        use(book, made, beads)


def test_of_several_sizes_one_is_named() -> None:
    with writing() as book:
        made = keep(book, lot_fields([6.0] * 5 + [8.0] * 7 + [10.0]), details=Details(name="mixed"))
        with pytest.raises(StashError, match="mixed has 2 sizes: say which"):
            use(book, made, 2)
        with pytest.raises(StashError, match="has no size 3"):
            use(book, made, 2, size=3)
        assert [size.count for size in use(book, made, 2, size=2).sizes] == [5, 5]
        assert recount(book, find(book, "mixed"), 0, size=0).count == 10


def test_what_is_forgotten_is_gone_with_all_that_belongs_to_it() -> None:
    made = kept("blue", [8.0] * 40)
    with writing() as book:
        forget(book, made)
    with reading() as book:
        assert entries(book) == []
        tables = ("size", "change", "photo")
        assert [book.execute(f"SELECT count(*) FROM {name}").fetchone() for name in tables] == [(0,)] * 3  # noqa: S608
        with pytest.raises(StashError, match=r"no entry 'blue': see what it has with strandgauge stash list"):
            find(book, "blue")
    assert kept("green", [8.0]).number == made.number + 1


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "12"}, "taken for an entry's number"),
        ({"name": "x" * 101}, "longer than 100"),
        ({"note": "x" * 2001}, "2000 letters at most"),
        ({"hole_mm": 0.0}, "in no bead"),
        ({"hole_mm": math.nan}, "in no bead"),
        ({"price": Decimal(-1)}, "no price"),
        ({"price": Decimal("NaN")}, "no price"),
        ({"price": Decimal("1e-9")}, "no price"),
        ({"date": "yesterday"}, "no date: write it like 20"),
    ],
)
def test_what_cannot_be_said_of_beads_is_refused(said: dict[str, object], why: str) -> None:
    with pytest.raises(StashError, match=why) as caught:
        kept(**({"name": "blue", "along_mm": [8.0]} | said))  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "fields",
    [
        {},
        [],
        7,
        {"format": 2, "kind": "plan", "beads": []},
        {"format": 2, "kind": "strand", "beads": []},
        {"format": 2, "kind": "strand", "beads": [7]},
        {**strand_fields([8.0] * 3), "strands": 7},
        {**strand_fields([8.0] * 3), "kind": "lot"},
        {**lot_fields([8.0] * 3), "lot": None},
    ],
)
def test_what_is_no_measurement_is_refused(fields: object) -> None:
    with writing() as book, pytest.raises(PieceError, match="is not a saved measurement"):
        keep(book, fields, details=DETAILS)  # type: ignore[arg-type]


def test_a_measurement_by_another_version_is_refused() -> None:
    with writing() as book, pytest.raises(StashError, match="another version"):
        keep(book, {**strand_fields([8.0] * 3), "format": 1}, details=DETAILS)


def test_the_measurements_that_are_printed_are_those_that_are_kept() -> None:
    # A new version of the fields needs a step of the schema that rewrites what is kept.
    assert FORMAT == PRINTED_FORMAT
