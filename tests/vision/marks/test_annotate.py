"""Marks on the photo: on the beads, legible, hiding nothing they need not hide."""

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.strands import CONDITIONS
from vision.common.corrections import Action, Correction
from vision.common.flags import ODD_SIZE
from vision.common.records import Loop, LooseBead, Other, Photo, Strand, StrandBead
from vision.marks.annotate import annotate_lot, annotate_strands
from vision.marks.colours import BY_HAND, FLAGGED, MEASURED, UNCOUNTED
from vision.marks.pen import Pen
from vision.marks.string_line import course_between_ends, parallel, round_line

# Never square, so that swapped axes show.
WIDTH, HEIGHT = 1500, 1000
PAPER = 235
LEVELS = 30
"""Grey levels by which an antialiased line may miss its colour."""
END_PX = 1.5


def photo(width: int = WIDTH, height: int = HEIGHT) -> Photo:
    return Photo(name="strand.jpg", rgb=np.full((height, width, 3), PAPER, np.uint8))


def circle(centre: np.ndarray, radius: float) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    return centre + radius * np.stack((np.cos(angle), np.sin(angle)), axis=1)


def strand_at(centres: np.ndarray, radius: float, *, flagged: tuple[int, ...] = ()) -> Strand:
    beads = tuple(
        StrandBead(
            number=k,
            centre_px=(float(x), float(y)),
            across_mm=6.0,
            across_u95_mm=0.06,
            along_mm=6.0,
            along_u95_mm=0.06,
            gap_after_mm=0.0,
            colour_rgb=(40, 80, 160),
            outline_px=circle(np.array([x, y]), radius),
            flags=(ODD_SIZE,) if k in flagged else (),
        )
        for k, (x, y) in enumerate(centres, start=1)
    )
    return Strand(
        conditions=CONDITIONS,
        beads=beads,
        length_mm=6.0 * len(beads),
        length_u95_mm=0.4,
        closed_up_mm=6.0 * len(beads),
        closed_up_u95_mm=0.4,
        string_px=centres,
    )


def row(count: int, radius: float, *, tilt: float = 0.1) -> np.ndarray:
    """Centres of touching beads along a slanted rod."""
    along = 2 * radius * np.arange(count)
    return np.stack((120 + along * np.cos(tilt), 300 + along * np.sin(tilt)), axis=1)


def arc(count: int, radius: float, bend: float) -> np.ndarray:
    """Centres of touching beads along the upper half of a circle of radius `bend`."""
    angle = np.pi + 2 * np.arcsin(radius / bend) * np.arange(count)
    return np.array([700, 700]) + bend * np.stack((np.cos(angle), np.sin(angle)), axis=1)


def near_colour(picture: np.ndarray, point: np.ndarray, colour: tuple[int, int, int]) -> bool:
    """Return whether the pixel at (x, y) or one beside it has a colour."""
    x, y = np.round(point).astype(int)
    patch = picture[y - 1 : y + 2, x - 1 : x + 2].reshape(-1, 3).astype(int)
    return bool((np.abs(patch - colour).max(axis=1) <= LEVELS).any())


def test_every_outline_is_drawn_where_it_was_measured_and_flagged_beads_stand_out() -> None:
    strand = strand_at(row(20, 30), 30, flagged=(4, 17))
    picture = annotate_strands(photo(), [strand])
    for bead in strand.beads:
        colour = FLAGGED if bead.flags else MEASURED
        # The points square to the string, where no neighbour's outline crosses.
        sides = bead.outline_px[[18, 54]]
        assert all(near_colour(picture, point, colour) for point in sides)


def test_photo_itself_stays_as_it_is() -> None:
    original = photo()
    annotate_strands(original, [strand_at(row(5, 30), 30)])
    assert (original.rgb == PAPER).all()


@pytest.mark.parametrize(
    "centres", [row(60, 11), row(40, 16), arc(30, 15, 300)], ids=["tiny", "small", "arc"]
)
def test_small_beads_stay_visible(centres: np.ndarray) -> None:
    radius = np.hypot(*(centres[1] - centres[0])) / 2
    picture = annotate_strands(photo(), [strand_at(centres, radius)])
    for x, y in np.round(centres).astype(int):
        assert (picture[y - 3 : y + 4, x - 3 : x + 4] == PAPER).all()


def test_large_beads_carry_their_numbers_inside() -> None:
    centres = row(6, 90)
    picture = annotate_strands(photo(), [strand_at(centres, 90)])
    for x, y in np.round(centres).astype(int):
        assert picture[y - 15 : y + 16, x - 15 : x + 16].min() < 60


def test_dimension_line_carries_the_length() -> None:
    strand = strand_at(row(20, 30), 30)
    one, other = (
        annotate_strands(photo(), [strand], length_texts=[text]) for text in ("120.0 mm", "4 3/4 in long")
    )
    rows, columns = np.nonzero((one != other).any(axis=2))
    assert rows.size > 0
    # Below the middle of the strand, which is at (689, 357), and clear of its beads.
    assert rows.min() > 357 + 30
    assert abs(columns.mean() - 689) < 60


def test_legend_appears_only_with_a_second_colour() -> None:
    plain = annotate_strands(photo(), [strand_at(row(5, 30), 30)])
    flagged = annotate_strands(photo(), [strand_at(row(5, 30), 30, flagged=(2,))])
    assert plain.shape == (HEIGHT, WIDTH, 3)
    assert flagged.shape[0] > HEIGHT
    strip = flagged[HEIGHT:].reshape(-1, 3)
    assert all((strip == colour).all(axis=1).any() for colour in (MEASURED, FLAGGED))


def test_single_bead_and_bead_without_outline_are_drawn() -> None:
    lone = strand_at(np.array([(400.0, 300.0)]), 30)
    assert near_colour(annotate_strands(photo(), [lone]), np.array([400.0, 270.0]), MEASURED)
    bead = loose(1, (500.0, 400.0), outline=np.empty((0, 2)))
    assert near_colour(annotate_lot(photo(), [bead], colours=[MEASURED]), np.array([500.0, 400.0]), MEASURED)


def loose(number: int, centre: tuple[float, float], *, outline: np.ndarray) -> LooseBead:
    return LooseBead(
        photo="lot.jpg",
        number=number,
        centre_px=centre,
        max_feret_mm=6.0,
        max_feret_u95_mm=0.06,
        min_feret_mm=6.0,
        min_feret_u95_mm=0.06,
        colour_rgb=(40, 80, 160),
        outline_px=outline,
    )


def test_loose_beads_wear_their_class_and_the_legend_names_it() -> None:
    rng = np.random.default_rng(8)
    centres = rng.uniform((50, 50), (WIDTH - 50, HEIGHT - 50), (25, 2))
    beads = [loose(k + 1, tuple(c), outline=circle(c, 20)) for k, c in enumerate(centres)]
    palette = [(0, 158, 115), (230, 159, 0), (0, 0, 0)]
    colours = [palette[k % 3] for k in range(len(beads))]
    legend = [(f"{size} mm, 12 beads", colour) for size, colour in zip((4, 6, 8), palette, strict=True)]
    picture = annotate_lot(photo(), beads, colours=colours, legend=legend)
    for bead, colour in zip(beads, colours, strict=True):
        assert any(near_colour(picture, point, colour) for point in bead.outline_px)
    strip = picture[HEIGHT:].reshape(-1, 3)
    assert all((strip == colour).all(axis=1).sum() > 50 for colour in palette)


def test_what_is_not_counted_is_outlined_and_crossed_out() -> None:
    at = (700.0, 300.0)
    thing = Other(centre_px=at, kind="other", outline_px=circle(np.array(at), 40))
    picture = annotate_lot(photo(), [], colours=[], others=[thing])
    assert all(near_colour(picture, point, UNCOUNTED) for point in thing.outline_px)
    arms = np.array(at) + 15 * np.array([[0, 0], [1, 1], [-1, 1], [1, -1], [-1, -1]])
    assert all(near_colour(picture, point, UNCOUNTED) for point in arms)
    free = np.array(at) + np.array([[0, 25], [25, 0]])
    assert not any(near_colour(picture, point, UNCOUNTED) for point in free)
    assert (picture[HEIGHT:] == UNCOUNTED).all(axis=2).any()


def test_empty_lot_is_the_photo() -> None:
    assert (annotate_lot(photo(), [], colours=[]) == PAPER).all()


def test_long_legend_takes_several_rows_within_the_width() -> None:
    colours = [(20 * k, 100, 200) for k in range(12)]
    strip = annotate_lot(
        photo(), [], colours=[], legend=[(f"class {k} of many", c) for k, c in enumerate(colours)]
    )
    for colour in colours:
        rows, columns = np.nonzero((strip == colour).all(axis=2))
        assert rows.min() > HEIGHT
        assert np.ptp(rows) == np.ptp(columns)  # each swatch is whole


def test_numbers_grow_with_the_photo() -> None:
    small, large = Pen(photo().rgb, bead_px=60), Pen(photo(4 * WIDTH, 4 * HEIGHT).rgb, bead_px=240)
    assert large.text_px == pytest.approx(4 * small.text_px)
    # Whole pixels and the least width of the rim leave a few pixels.
    assert large.text_size("38") == pytest.approx(4 * np.array(small.text_size("38")), rel=0.15)


def test_course_ends_at_the_outer_ends_of_the_end_beads() -> None:
    centres = row(9, 30, tilt=0.0)
    course = course_between_ends(centres, first=circle(centres[0], 30), last=circle(centres[-1], 30))
    assert course[0] == pytest.approx(centres[0] - (30, 0), abs=END_PX)
    assert course[-1] == pytest.approx(centres[-1] + (30, 0), abs=END_PX)


def test_several_strands_are_all_drawn_each_with_its_length() -> None:
    strands = [strand_at(row(12, 25, tilt=0.0) + np.array([0, down]), 25) for down in (0, 300)]
    bare = annotate_strands(photo(), strands, length_texts=["", ""])
    for k, strand in enumerate(strands):
        assert near_colour(bare, strand.beads[6].outline_px[18], MEASURED)
        texts = ["", ""]
        texts[k] = "120.0 mm"
        rows, _ = np.nonzero((annotate_strands(photo(), strands, length_texts=texts) != bare).any(axis=2))
        middle = strand.beads[0].centre_px[1]
        assert middle - 120 < rows.min() <= rows.max() < middle + 120


def test_a_dimension_line_keeps_off_the_strand_below() -> None:
    upper, lower = (strand_at(row(30, 12, tilt=0.0) + np.array([0, down]), 12) for down in (100, 160))
    picture = annotate_strands(photo(), [upper, lower])
    # Without room between the strands the line of the upper one runs above it, that of the lower one below.
    for bead in lower.beads:
        x, y = np.round(bead.centre_px).astype(int)
        assert (picture[y - 3 : y + 4, x - 3 : x + 4] == PAPER).all()
    dark = (picture[:, 700] < 60).all(axis=1)
    middle = round(upper.beads[0].centre_px[1])
    assert dark[: middle - 15].any()
    assert dark[middle + 75 :].any()


def test_a_closed_line_runs_round_a_loop_clear_of_what_is_there() -> None:
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    centres = np.array([700, 500]) + np.stack((300 * np.cos(turn), 200 * np.sin(turn)), axis=1)
    outlines = np.vstack([circle(centre, 20) for centre in centres])
    numbers = np.vstack((centres[:1] + np.array([50, 0]), [(700, 500)]))
    line, outward = round_line(outlines, numbers, gap_px=10)
    # 30 px for the number beyond the first bead, none for that in the middle, and 10 px of gap.
    distance = np.hypot(*np.moveaxis(line[:, None] - outlines[None], 2, 0)).min(axis=1)
    assert distance.min() == pytest.approx(40, abs=0.5)
    # Between two beads it runs straight, so farther from both (Pythagoras).
    half = np.hypot(*(centres - np.roll(centres, 1, axis=0)).T).max() / 2
    assert distance.max() == pytest.approx(np.hypot(20 + 40, half) - 20, abs=0.5)
    assert np.hypot(*(line[0] - line[-1])) < 10
    assert (((line - (700, 500)) * outward).sum(axis=1) > 0).all()


def test_a_loop_is_drawn_with_a_closed_line_and_its_numbers_outside() -> None:
    loop = Loop(
        around_mm=100.0, around_u95_mm=0.4, inner_girth_mm=80.0, inner_girth_u95_mm=0.4, clasp_mm=10.0
    )
    turn = np.linspace(0.3, 2 * np.pi - 0.3, 55)
    centres = np.array([700, 500]) + 250 * np.stack((np.cos(turn), np.sin(turn)), axis=1)
    picture = annotate_strands(photo(), [replace(strand_at(centres, 12), loop=loop)], length_texts=[""])
    dark = np.argwhere((picture < 60).all(axis=2))[:, ::-1] - (700, 500)
    assert np.hypot(*dark.T).min() > 250 + 12
    # A ray in any direction meets the line, also where the clasp would be.
    beyond = dark[np.hypot(*dark.T) > 275]
    degrees = np.degrees(np.arctan2(beyond[:, 1], beyond[:, 0])).astype(int)
    assert len(set(degrees.tolist())) >= 359


def test_dimension_line_runs_parallel_below_what_is_there() -> None:
    centres = arc(30, 20, 400)
    course = course_between_ends(centres, first=circle(centres[0], 20), last=circle(centres[-1], 20))
    outlines = np.vstack([circle(centre, 20) for centre in centres])
    line, outward, lost = parallel(course, outlines, gap_px=10)
    middle = slice(40, -40)
    # Below an arc that opens downwards is towards its centre: 20 for the beads and 10 of gap.
    distance = np.hypot(*(line[middle] - (700, 700)).T)
    assert distance == pytest.approx(np.full(len(distance), 400 - 30), abs=4)
    towards_centre = ((np.array([700, 700]) - line[middle]) * outward[middle]).sum(axis=1)
    assert towards_centre == pytest.approx(distance, rel=0.01)
    assert lost == 0


def test_within_a_ring_that_is_narrower_than_its_distance_no_line_runs_beside_the_course() -> None:
    turn = np.linspace(0.3, 2 * np.pi - 0.3, 55)
    course = np.array([700, 500]) + 60 * np.stack((np.cos(turn), np.sin(turn)), axis=1)
    course = course_between_ends(course, first=circle(course[0], 4), last=circle(course[-1], 4))
    outside, inside = (parallel(course, course, gap_px=80.0, above=above)[2] for above in (False, True))
    assert min(outside, inside) == 0
    assert max(outside, inside) > len(course) / 2


def test_what_is_no_part_of_a_strand_is_outlined_in_grey_without_a_number() -> None:
    things = {"stray": (300.0, 200.0), "stopper": (900.0, 200.0), "other": (1200.0, 200.0)}
    others = tuple(
        Other(centre_px=at, kind=kind, outline_px=circle(np.array(at), 40.0)) for kind, at in things.items()
    )
    strand = strand_at(row(12, 30), 30.0)
    picture = annotate_strands(photo(), [replace(strand, others=others)])
    bare = annotate_strands(photo(), [strand])
    for other in others:
        x, y = np.rint(other.outline_px[0]).astype(int)
        drawn = np.abs(picture[y, x].astype(int) - UNCOUNTED).max() < LEVELS
        assert drawn == (other.kind != "other")
        inside = np.s_[int(other.centre_px[1]) - 20 : int(other.centre_px[1]) + 20, x - 60 : x - 20]
        assert np.array_equal(picture[inside], bare[inside])


RINGED: tuple[Action, ...] = ("spacer", "cover", "size")


def test_what_was_put_right_is_ringed_and_what_is_none_crossed_out() -> None:
    plain = strand_at(row(5, 40.0), 40.0)
    beads = tuple(replace(bead, was=(bead.number,)) for bead in plain.beads)
    gone = (1200.0, 800.0)
    named = [Correction(action=action, numbers=(k,)) for k, action in enumerate(RINGED, 2)]
    none = Correction(action="no bead", numbers=(6,), px=gone)
    before = annotate_strands(photo(), [replace(plain, beads=beads)])
    after = annotate_strands(photo(), [replace(plain, beads=beads, corrections=(*named, none))])
    for bead in beads:
        x, y = map(int, bead.centre_px)
        column = after[y - 50 : y - 41, x].astype(int)  # 1.15 times a radius of 40 px above the middle
        ringed = np.abs(column - BY_HAND).max(axis=1).min() < LEVELS
        assert ringed == (1 < bead.number < 2 + len(RINGED))
    x, y = map(int, gone)
    assert np.abs(after[y, x].astype(int) - BY_HAND).max() < LEVELS
    crossed = annotate_strands(photo(), [replace(plain, beads=beads, corrections=(none,))])
    changed = np.argwhere((crossed[:HEIGHT] != before[:HEIGHT]).any(axis=2))
    assert np.abs(changed - (y, x)).max() < 40  # nothing but the cross


def test_loose_beads_put_right_are_marked_too() -> None:
    beads = [
        LooseBead(
            photo="lot.jpg",
            number=1,
            centre_px=(300.0, 300.0),
            max_feret_mm=8.0,
            max_feret_u95_mm=0.1,
            min_feret_mm=8.0,
            min_feret_u95_mm=0.1,
            colour_rgb=(0, 0, 0),
            outline_px=circle(np.array([300.0, 300.0]), 40.0),
        )
    ]
    said = [Correction(action="no bead", numbers=(2,), photo="lot.jpg", px=(900.0, 600.0))]
    marked = annotate_lot(photo(), beads, colours=[MEASURED], corrections=said)
    assert np.abs(marked[600, 900].astype(int) - BY_HAND).max() < LEVELS
    assert marked.shape[0] > HEIGHT  # with a legend
    assert annotate_lot(photo(), beads, colours=[MEASURED]).shape[0] == HEIGHT


def test_the_line_to_a_number_begins_at_the_outline_of_a_long_bead() -> None:
    """Were it as far away as the bead's ends are, it would begin in the middle of nowhere, or of another."""
    centre = np.array([700.0, 500.0])
    outline = centre + (circle(centre, 1.0) - centre) * (60.0, 12.0)
    picture = annotate_lot(photo(), [loose(1, (700.0, 500.0), outline=outline)], colours=[MEASURED])
    dark = np.flatnonzero(picture[:500, 700].max(axis=1) < 60)
    assert dark.max() == pytest.approx(500 - 12.0, abs=8.0)
