"""Piece files: what they say, and what is said of a wrong one."""

from pathlib import Path

import pytest

from sizing.base.errors import PieceError
from sizing.piece.parts import Kind
from sizing.piece.piece import Piece
from sizing.piece.toml.read import PIECE_HELP, load_piece, read_piece

INCH_MM = 25.4
SUM_MM = 1e-9
TABLE_MM = 5e-5  # half of the last digit of the standard's table


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
    assert read_piece("piece = 1\n[wire]\nawg = 26").wire.diameter_mm == pytest.approx(0.4049, abs=TABLE_MM)


@pytest.mark.parametrize(
    ("right", "wrong", "message"),
    [
        ("piece = 1", "piece = 2", r'line 1, piece: the file must begin with "piece = 1"'),
        ('size = "6 mm"', "size = 6", r"line 13, \[bead\] size: 6 has no unit: write it in quotes"),
        ('size = "6 mm"', 'size = "6"', r"line 13, \[bead\] size: 6 has no unit: write 6mm"),
        ('size = "6 mm"', "size = [6]", r"line 13, \[bead\] size: a list has no unit"),
        ('size = "6 mm"', 'along = "6 mm"', r"line 11, \[bead\] size: give either size"),
        ('size = "6 mm"', 'sise = "6 mm"', r"line 13, \[bead\] sise: unknown key; did you mean size\?"),
        ('kind = "clasp"', 'knd = "clasp"', r"line 25, \[finding\] knd: unknown key; did you mean kind\?"),
        ('length = "12 mm"', 'lenth = "12 mm"', r"\[finding\] lenth: unknown key; did you mean length\?"),
        ('hole = "1 mm"', 'hol = "1 mm"', r"line 15, \[bead\] hol: unknown key; did you mean hole\?"),
        ('hole = "1 mm"', 'hole = "1 cm"', r"line 15, \[bead\] hole: a hole of 10.00 mm is no smaller"),
        ("count = 1 ", "count = 1.5 ", r"line 14, \[bead\] count: 1.5 does not fit: write a whole number"),
        ("count = 1 ", "count = true ", r"line 14, \[bead\] count: true does not fit"),
        ("cost = 0.12", 'cost = "12 ct"', r"line 17, \[bead\] cost: '12 ct' is not a number"),
        ('size = "6 mm"', 'size = "6 m"', r"line 13, \[bead\] size: a bead of 6000.0 mm is not between 0.5"),
        ("cost = 0.12", "cost = -1", r"line 17, \[bead\] cost: -1 is out of range: it must be at least 0"),
        ("cost = 0.12", "cost = nan", r"line 17, \[bead\] cost: nan is out of range"),
        ('order = "repeat"', 'order = "any"', r"line 20, \[layout\] order: 'any' does not fit: write one of"),
        ("symmetric = false", 'symmetric = "no"', r"line 21, \[layout\] symmetric: 'no' does not fit: write"),
        ('kind = "clasp"', "", r"line 24, \[finding\] kind: it is missing: write one of clasp, jump ring"),
        ('length = "12 mm"', "", r"line 24, \[finding\] length: it is missing"),
        (
            "back_through = 2",
            "back_through = 2\nawg = 26",
            r"line 41, \[wire\] awg: the diameter is given as well",
        ),
        ("diameter =", "awg = 41 #", r"line 37, \[wire\] awg: 41 does not fit: .* whole number from 1 to 40"),
        ("margin = 0.5", "margin = 1.0", r"line 46, \[work\] margin: 1.0 is out of range: .* less than 1"),
        ('ease = "1/4 in"', 'wrist = "6 in"', r"line 7, \[target\] ankle: wrist and ankle are different"),
        ("[wire]", "[wyre]", r"line 36, wyre: unknown key; did you mean wire\?"),
        ("[wire]", '["a\\nb"]', r"line 36, 'a\\nb': unknown key; the keys here are"),
        ("[[bead]]", "[bead]", r"line 11, bead: write it as tables, each under a line \[\[bead\]\]"),
        ("[layout]", "[[layout]]", r"line 19, layout: write it as a table, under a line \[layout\]"),
        ('name = "Blue glass anklet"', "name = 6", r"line 2, name: 6 is not a text"),
        ('name = "Blue glass anklet"', "name = Blue", r"line 2, column 8: Invalid value"),
        ('name = "Blue glass anklet"', "spare = 0.1", r"line 3, spare: it is given in line 2 already"),
        ('name = "Blue glass anklet"', f"name = {'[' * 5000}", r"line 2: over 20 brackets lie inside"),
        ('name = "Blue glass anklet"', f"name.{'a.' * 2000}a = 1", r"line 2, name: a table is not a text"),
    ],
)
def test_a_wrong_line_is_named(right: str, wrong: str, message: str) -> None:
    assert right in PIECE_HELP
    with pytest.raises(PieceError, match=message) as error:
        read_piece(PIECE_HELP.replace(right, wrong, 1), name="anklet.toml")
    assert str(error.value).startswith("anklet.toml")
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[bead]]\nsize = "6 mm"\n\n[[bead]]\nsize = "six"\n', r"line 6, \[bead\] size"),
        ('[[bead]]\nsize = "6 mm"\n[layout]\n[[bead]]\nsize = 1\n', r"line 6, \[bead\] size"),
        ('bead = [\n  {size = "6 mm"},\n  # blue\n  {size = "six"},\n]\n', r"line 5, \[bead\] size"),
        ("target.ankle = '9 in'\ntarget.ease = 'wide'\n", r"line 3, \[target\] ease"),
        ("target = {ankle = '9 in',\tease = 2}\n", r"line 2, \[target\] ease"),
        ("[target]\nneck = '15 in'\nstep = 'close'\n", r"line 4, \[target\] step: .* or touching"),
        ('name = """\n[wire]\ntail = 1\n"""\n[wire]\ntail = 2\n', r"line 7, \[wire\] tail"),
        ("[ \"wire\" ]\n'tail' = 2\n", r"line 3, \[wire\] tail"),
        ('name = """\r\n\r\n"""\r\n[wire]\r\ntail = 2\r\n', r"line 6, \[wire\] tail"),
        ("spare = 0\n[wire]\nsize.long.thick = 1\n", r"line 4, \[wire\] size: unknown key"),
    ],
)
def test_the_line_is_right_however_the_text_is_laid_out(text: str, message: str) -> None:
    with pytest.raises(PieceError, match=f"^piece, {message}"):
        read_piece(f"piece = 1\n{text}")


def test_a_mark_at_the_beginning_and_other_line_ends_are_read(tmp_path: Path) -> None:
    (tmp_path / "marked.toml").write_bytes(b"\xef\xbb\xbf" + PIECE_HELP.replace("\n", "\r\n").encode())
    assert load_piece(tmp_path / "marked.toml") == read_piece(PIECE_HELP)


def test_unreadable_files_are_one_line(tmp_path: Path) -> None:
    with pytest.raises(PieceError, match="cannot be read"):
        load_piece(tmp_path / "none.toml")
    (tmp_path / "photo.toml").write_bytes(b"\xff\xd8\xff")
    with pytest.raises(PieceError, match="is not plain text: save it again"):
        load_piece(tmp_path / "photo.toml")
    (tmp_path / "good.toml").write_text(PIECE_HELP)
    assert load_piece(tmp_path / "good.toml").name == "Blue glass anklet"
