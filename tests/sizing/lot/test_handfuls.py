"""The photos of a lot are known by names that tell them apart."""

from pathlib import Path

import pytest

from sizing.base.errors import SizingError
from sizing.lot.handfuls import photo_names


def test_photos_are_known_by_their_file_names() -> None:
    assert photo_names([Path("in/a.jpg"), Path("in/b.jpg")]) == ("a.jpg", "b.jpg")


def test_photos_of_one_name_are_known_by_their_paths() -> None:
    paths = [Path("mon/a.jpg"), Path("tue/a.jpg"), Path("b.jpg")]
    assert photo_names(paths) == (str(paths[0]), str(paths[1]), "b.jpg")


def test_names_are_printable(tmp_path: Path) -> None:
    (tmp_path / "loop.jpg").symlink_to("loop.jpg")
    assert photo_names([Path("a\nb.jpg"), tmp_path / "loop.jpg"]) == ("a\\nb.jpg", "loop.jpg")


def test_a_photo_given_twice_is_refused() -> None:
    with pytest.raises(SizingError, match=r"a\.jpg is given twice"):
        photo_names([Path("a.jpg"), Path("b.jpg"), Path("./a.jpg")])
