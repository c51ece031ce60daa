"""Opening photos ends, in bounded memory, without a word from the decoders."""

import io
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from vision.common.errors import UnreadablePhotoError
from vision.image.photo import load_photo

pillow_heif.register_heif_opener()  # to write such files here

MEGABYTE = 1 << 20
LYING = Image.Exif()
LYING[0x0112] = 6  # EXIF 2.3: the 0th row is the right-hand side


def noise() -> Image.Image:
    return Image.fromarray(np.random.default_rng(4).integers(0, 256, (210, 330, 3), np.uint8))


@pytest.mark.parametrize("path", ["pipe", "/dev/zero", "link"])
def test_what_is_not_a_file_is_refused_without_waiting(tmp_path: Path, path: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("pipe")
    with pytest.raises(UnreadablePhotoError, match="this is not a file; save the photo to a file first"):
        load_photo(tmp_path / path)


def test_a_circle_of_links_is_refused(tmp_path: Path) -> None:
    (tmp_path / "loop.jpg").symlink_to("loop.jpg")
    with pytest.raises(UnreadablePhotoError, match="levels of symbolic links"):
        load_photo(tmp_path / "loop.jpg")


@pytest.mark.parametrize("compression", ["tiff_lzw", "tiff_adobe_deflate", "jpeg"])
def test_decoders_do_not_print(tmp_path: Path, capfd: pytest.CaptureFixture[str], compression: str) -> None:
    stream = io.BytesIO()
    noise().save(stream, "TIFF", compression=compression)
    content = bytearray(stream.getvalue())
    rng = np.random.default_rng(7)
    path = tmp_path / "broken.tif"
    refused = 0
    for _ in range(20):
        broken = content.copy()
        for at in rng.integers(8, len(content), 300):
            broken[at] = rng.integers(256)
        path.write_bytes(broken)
        try:
            load_photo(path)
        except UnreadablePhotoError:
            refused += 1
    assert refused
    assert capfd.readouterr() == ("", "")


MEASURED = """
import re, sys
from vision.image.photo import load_photo
peak = lambda: 1024 * int(re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())[1])
before = peak()
shape = load_photo(sys.argv[1]).rgb.shape
print((peak() - before) / (shape[0] * shape[1]))
"""


@pytest.mark.parametrize(
    ("suffix", "mode", "options", "most"),
    [
        ("jpg", "RGB", {"exif": LYING}, 7),
        ("jpg", "CMYK", {}, 7),
        ("jpg", "RGB", {"progressive": True, "subsampling": 0}, 11),
        ("png", "RGBA", {"compress_level": 1}, 7),
        ("tiff", "RGB", {"exif": LYING}, 15),
        ("webp", "RGB", {"method": 0}, 17),
        ("heic", "RGB", {"quality": 30}, 13),
    ],
)
def test_memory_taken_is_what_the_limit_assumes(
    tmp_path: Path, suffix: str, mode: str, options: dict[str, object], most: int
) -> None:
    path = tmp_path / f"large.{suffix}"
    picture = Image.radial_gradient("L").resize((4000, 3000)).convert("RGB")
    picture.convert(mode).save(path, **options)
    done = subprocess.run([sys.executable, "-c", MEASURED, path], capture_output=True, text=True, check=True)
    # The rows converted at a time, and the decoder's own tables.
    spare = 24 * MEGABYTE / (4000 * 3000)
    assert 1 < float(done.stdout) < most + spare


SHORT_OF_MEMORY = """
import re, resource, sys
from vision.image.photo import load_photo
taken = 1024 * int(re.search(r"VmSize:\\s+(\\d+) kB", open("/proc/self/status").read())[1])
resource.setrlimit(resource.RLIMIT_AS, (taken + int(sys.argv[2]),) * 2)
load_photo(sys.argv[1])
"""


@pytest.mark.parametrize(
    ("left", "said"), [(100 * MEGABYTE, "too little"), (700 * MEGABYTE, "too little"), (1 << 31, "")]
)
def test_a_photo_is_refused_where_measuring_it_would_run_out_of_memory(
    tmp_path: Path, left: int, said: str
) -> None:
    path = tmp_path / "photo.png"
    noise().save(path)
    words = [sys.executable, "-c", SHORT_OF_MEMORY, path, str(left)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert (done.returncode == 0) == (not said)
    assert said in done.stderr
