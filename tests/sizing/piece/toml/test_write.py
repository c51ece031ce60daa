"""A piece written as a piece file reads back as itself."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.piece.parts import BeadPart, Finding, Kind, Wire, Work
from sizing.piece.piece import Piece
from sizing.piece.stringing import Layout
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.piece.toml.write import piece_text

WRITTEN_MM = 5e-5  # a piece file keeps a tenth of a micrometre

lengths = st.integers(1, 3_000_000).map(lambda tenth_um: tenth_um / 10_000)
sizes = st.integers(5_000, 1_000_000).map(lambda tenth_um: tenth_um / 10_000)
maybe_lengths = st.none() | lengths
# A hole is smaller than its bead.
holes = st.none() | st.integers(1, 4_000).map(lambda tenth_um: tenth_um / 10_000)
amounts = st.none() | st.floats(0, 1000)
# A name is read as a printable one.
names = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=12)
pieces = st.builds(
    Piece,
    name=names,
    beads=st.lists(
        st.builds(
            BeadPart,
            along_mm=sizes,
            across_mm=sizes,
            name=names,
            count=st.integers(1, 9),
            hole_mm=holes,
            cost=amounts,
            have=st.none() | st.integers(0, 500),
        ),
        max_size=3,
    ).map(tuple),
    target_mm=st.dictionaries(st.sampled_from(["wrist", "finished", "strung"]), lengths, max_size=1),
    ease_mm=maybe_lengths,
    step_mm=maybe_lengths | st.just(0.0),
    layout=st.builds(Layout, graduated=st.booleans(), symmetric=st.booleans(), whole=st.booleans()),
    findings=st.none()
    | st.lists(
        st.builds(
            Finding,
            kind=st.sampled_from([Kind.CLASP, Kind.CRIMP, Kind.EXTENDER]),
            length_mm=lengths,
            name=names,
            bore_mm=maybe_lengths,
            link_mm=maybe_lengths,
            mass_g=amounts,
        ),
        min_size=1,
        max_size=3,
    ).map(tuple),
    wire=st.builds(Wire, diameter_mm=maybe_lengths, tail_mm=lengths, cost_per_metre=amounts),
    work=st.builds(Work, minutes=st.floats(0, 600), margin=st.floats(0, 0.9), currency=names),
    spare=st.floats(0, 2),
)


@given(pieces)
@settings(deadline=None)
def test_what_is_written_reads_back(piece: Piece) -> None:
    assert read_piece(piece_text(piece)) == piece


def test_the_documented_example_comes_back() -> None:
    piece = read_piece(PIECE_HELP)
    again = read_piece(piece_text(piece))
    assert again.target_mm == pytest.approx(piece.target_mm, abs=WRITTEN_MM)
    assert (again.beads, again.work, again.sizes) == (piece.beads, piece.work, piece.sizes)
    assert again.wire.diameter_mm == pytest.approx(piece.wire.diameter_mm, abs=WRITTEN_MM)


def test_it_is_toml_that_another_reader_understands() -> None:
    fields = tomllib.loads(piece_text(read_piece(PIECE_HELP)))
    assert fields["piece"] == 1
    assert fields["bead"][0]["size"] == "6 mm"


def test_a_measured_bead_keeps_its_uncertainty() -> None:
    bead = BeadPart(along_mm=5.95, across_mm=6.0, rel_u95=0.0158, have=14)
    [again] = read_piece(piece_text(Piece(beads=(bead,)))).beads
    assert again.rel_u95 * again.along_mm == pytest.approx(0.0158 * 5.95, abs=WRITTEN_MM)
    assert again.have == 14


def test_lengths_are_written_as_they_were_typed() -> None:
    text = PIECE_HELP.replace('diameter = ".015 in"', "awg = 28")
    lines = [line.partition("#")[0].strip() for line in text.splitlines()]
    again = piece_text(read_piece(text))
    typed = [line for line in lines if line.endswith(('in"', 'mm"', "28"))]
    assert len(typed) == 12
    assert set(typed) <= set(again.splitlines())
    assert read_piece(again) == read_piece(text)
