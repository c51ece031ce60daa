"""Piece files: what they say, and what is said of a wrong one."""

from pathlib import Path

import pytest

from sizing.base.errors import PieceError
from sizing.piece.file import PIECE_HELP, load_piece, read_piece
from sizing.piece.parts import Kind
from sizing.piece.piece import Piece

INCH_MM = 25.4
SUM_MM = 1e-9


def test_the_documented_example_reads_as_it_says() -> None:
    piece = read_piece(PIECE_HELP)
    [bead], [finding] = piece.beads, piece.findings or ()
    assert (piece.name, piece.sizes, piece.spare) == ("Blue glass anklet", "women", 0.05)
    assert piece.target_mm == {"ankle": pytest.approx(8.5 * INCH_MM)}
    assert piece.ease_mm == pytest.approx(INCH_MM / 4)
    assert (bead.along_mm, bead.across_mm, bead.hole_mm, bead.cost) == (6, 6, 1, 0.12)
    assert (finding.kind, finding.length_mm, finding.bore_mm) == (Kind.CLASP, 12, 1.3)
    assert piece.wire.diameter_mm == pytest.approx(0.381, abs=SUM_MM)
    assert (piece.wire.tail_mm, piece.wire.loop_mm) == pytest.approx((2 * INCH_MM, INCH_MM / 4))
    assert (piece.work.minutes, piece.work.rate_per_hour, piece.work.margin) == (25, 20, 0.5)


def test_the_least_file() -> None:
    assert read_piece("piece = 1") == Piece()


def test_findings_have_usual_counts_and_lengths() -> None:
    text = 'piece = 1\n[[finding]]\nkind = "french wire"\n[[finding]]\nkind = "crimp"\nlength = "2 mm"\n'
    french, crimp = read_piece(text).findings or ()
    # 3/8 in of French wire at each end of a bracelet (common practice, no source), bent in half.
    assert french.count == 2
    assert (french.cut_mm, french.length_mm) == pytest.approx((0.375 * INCH_MM, 0.1875 * INCH_MM))
    assert crimp.count == 2


def test_wire_by_gauge() -> None:
    # ASTM B258: 26 is 0.4049 mm.
    assert read_piece("piece = 1\n[wire]\nawg = 26").wire.diameter_mm == pytest.approx(0.4049, abs=5e-5)


@pytest.mark.parametrize(
    ("right", "wrong", "message"),
    [
        ("piece = 1", "piece = 2", r'line 1, piece: the file must begin with "piece = 1"'),
        ('size = "6 mm"', "size = 6", r"line 12, \[bead\] size: 6 has no unit: write it in quotes"),
        ('size = "6 mm"', 'size = "6"', r"line 12, \[bead\] size: 6 has no unit: write 6mm"),
        ('size = "6 mm"', 'along = "6 mm"', r"line \d+, \[bead\] size: give either size"),
        (
            'hole = "1 mm"',
            'hol = "1 mm"',
            r"line 14, \[bead\] hol: there is no such key here; did you mean hole\?",
        ),
        ("count = 1 ", "count = 1.5 ", r"line 13, \[bead\] count: 1.5 is no count"),
        ("cost = 0.12", 'cost = "12 ct"', r"line 16, \[bead\] cost: '12 ct' is no number"),
        ("cost = 0.12", "cost = -1", r"line 16, \[bead\] cost: -1 is out of range"),
        ("cost = 0.12", "cost = nan", r"line 16, \[bead\] cost: nan is out of range"),
        ('order = "repeat"', 'order = "random"', r"line 19, \[layout\] order: 'random' is not one of them"),
        (
            "symmetric = false",
            'symmetric = "no"',
            r"line 20, \[layout\] symmetric: 'no' is neither true nor false",
        ),
        ('kind = "clasp"', "", r"line 23, \[finding\] kind: it is missing: write one of clasp, jump ring"),
        ('length = "12 mm"', "", r"line 23, \[finding\] length: it is missing"),
        ("back_through = 2", "back_through = 2\nawg = 26", r"line 40, \[wire\] awg: diameter says the same"),
        ("margin = 0.5", "margin = 1.0", r"line 45, \[work\] margin: 1.0 is out of range: .* less than 1"),
        ('ease = "1/4 in"', 'wrist = "6 in"', r"line 7, \[target\] ankle: wrist and ankle are different"),
        ("[wire]", "[wyre]", r"line 35, wyre: there is no such key here; did you mean wire\?"),
        ("[[bead]]", "[bead]", r"line 10, bead: write it as tables, each under a line \[\[bead\]\]"),
        ("[layout]", "[[layout]]", r"line 18, layout: write it as a table, under a line \[layout\]"),
        ('name = "Blue glass anklet"', "name = 6", r"line 2, name: 6 is no text"),
        ('name = "Blue glass anklet"', "name = Blue", r"at line 2, column 8"),
    ],
)
def test_a_wrong_line_is_named(right: str, wrong: str, message: str) -> None:
    assert right in PIECE_HELP
    with pytest.raises(PieceError, match=message) as error:
        read_piece(PIECE_HELP.replace(right, wrong, 1), name="anklet.toml")
    assert str(error.value).startswith("anklet.toml")
    assert "\n" not in str(error.value)


def test_the_right_table_of_several_is_named() -> None:
    text = 'piece = 1\n[[bead]]\nsize = "6 mm"\n\n[[bead]]\nsize = "six"\n'
    with pytest.raises(PieceError, match="line 6"):
        read_piece(text)


def test_unreadable_files_are_one_line(tmp_path: Path) -> None:
    with pytest.raises(PieceError, match="cannot be read"):
        load_piece(tmp_path / "none.toml")
    (tmp_path / "photo.toml").write_bytes(b"\xff\xd8\xff")
    with pytest.raises(PieceError, match="no text in UTF-8"):
        load_piece(tmp_path / "photo.toml")
    (tmp_path / "good.toml").write_text(PIECE_HELP)
    assert load_piece(tmp_path / "good.toml").name == "Blue glass anklet"
