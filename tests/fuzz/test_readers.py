"""Whatever is given to a reader, it answers or refuses in one line, as errors that users can cause."""

import io
import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from sizing.base.errors import PieceError, SizingError
from sizing.base.printable import one_line
from sizing.base.units import read_length
from sizing.lot.label import parse_label
from sizing.piece.bead_size import read_bead
from sizing.piece.measured_beads import load_measured
from sizing.piece.toml.read import PIECE_HELP, read_piece
from vision.common.errors import UnreadablePhotoError
from vision.image.photo import load_photo

numbers = st.sampled_from(["0", "1", "6.5", "6 1/2", "7¼", "1/0", "-2", "1e9", "0.00001", "９", ".", ",5"])  # noqa: RUF001
units = st.sampled_from(["mm", "cm", "in", '"', "ft", "'", "m", "", "x", "/0", "-", " ", "\n", "\0"])
lengths = st.lists(numbers | units | st.text(max_size=3), max_size=6).map("".join)
scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
documents = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)
lines = st.lists(st.sampled_from(PIECE_HELP.splitlines()) | st.text(max_size=20), max_size=12)
in_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def refusal(read: Callable[[], object], *errors: type[Exception]) -> str:
    """Return the message of an error that a user can cause; empty where something was read."""
    try:
        read()
    except errors as error:
        return str(error)
    return ""


@given(lengths)
def test_a_length_is_read_or_refused(text: str) -> None:
    for read in (read_length, read_bead, parse_label):
        said = refusal(partial(read, text), ValueError, SizingError)
        assert len(one_line(said).splitlines()) <= 1


@given(lines)
def test_a_piece_is_read_or_refused(text: list[str]) -> None:
    said = refusal(partial(read_piece, "\n".join(text)), PieceError)
    assert len(one_line(said).splitlines()) <= 1


@in_folder
@given(documents)
def test_a_measurement_is_read_or_refused(tmp_path: Path, document: object) -> None:
    path = tmp_path / "b.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(PieceError):
        load_measured(path)


def encoded(kind: str) -> bytes:
    stream = io.BytesIO()
    Image.radial_gradient("L").resize((240, 210)).convert("RGB").save(stream, kind)
    return stream.getvalue()


@in_folder
@given(
    st.sampled_from([encoded(kind) for kind in ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")]),
    st.lists(st.tuples(st.integers(0, 1500), st.integers(0, 255)), max_size=8),
    st.integers(0, 60_000),
)
def test_a_photo_is_read_or_refused(
    tmp_path: Path, content: bytes, changes: list[tuple[int, int]], cut: int
) -> None:
    spoilt = bytearray(content)
    for at, value in changes:
        spoilt[at % len(spoilt)] = value
    path = tmp_path / "photo"
    path.write_bytes(spoilt[: max(len(spoilt) - cut, 1)] if cut % 3 == 0 else spoilt)
    said = refusal(partial(load_photo, path), UnreadablePhotoError)
    assert len(said.splitlines()) <= 1
