"""Photos on a page: cut to their marks, small however many."""

import base64
import io

import numpy as np
import pytest
from PIL import Image

from sizing.report.html.photo import LARGEST_BYTES, cut_to_marks, pictures


def test_a_photo_is_cut_to_its_marks() -> None:
    photo = np.full((300, 420, 3), 200, np.uint8)
    marked = np.vstack((photo, np.zeros((40, 420, 3), np.uint8)))  # a legend below
    marked[100:120, 50:200] = 0
    cut = cut_to_marks(photo, marked)
    margin = round(0.03 * 420)
    assert cut.shape[:2] == (20 - 1 + 2 * margin, 150 - 1 + 2 * margin)
    np.testing.assert_array_equal(cut_to_marks(photo, photo), photo)


def test_photos_stay_small_however_many() -> None:
    rng = np.random.default_rng(5)
    noise = [rng.integers(0, 255, (1500, 2000, 3), np.uint8) for _ in range(3)]
    shown = pictures(iter(noise), [(f"photo {i}", "") for i in range(3)])
    data = [base64.b64decode(each.source.partition(",")[2]) for each in shown]
    assert sum(map(len, data)) <= LARGEST_BYTES
    for each, content in zip(shown, data, strict=True):
        with Image.open(io.BytesIO(content)) as image:
            assert image.size == each.size_px
            assert image.size[0] / image.size[1] == pytest.approx(4 / 3, rel=0.01)
