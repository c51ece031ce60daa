"""Opening photos: every file kind and pixel format, upright and sRGB, and each refusal."""

import io
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from tests.helpers.srgb import coded
from vision.common.errors import UnreadablePhotoError
from vision.image import photo as module
from vision.image.photo import MOST_BYTES, encode_image, load_photo

pillow_heif.register_heif_opener()  # to write such files here

# Never square, so that swapped axes show.
HEIGHT, WIDTH = 210, 330
LOSSLESS_LEVELS = 0
LOSSY_LEVELS = 6
JPEG_PIXEL_BYTES = PNG_PIXEL_BYTES = 7  # 4 in the decoded picture, 3 in the result


def quadrants() -> np.ndarray:
    """Return four flat colours, different in every orientation, shape (HEIGHT, WIDTH, 3)."""
    rgb = np.zeros((HEIGHT, WIDTH, 3), np.uint8)
    rgb[: HEIGHT // 2, : WIDTH // 2] = (200, 40, 40)
    rgb[: HEIGHT // 2, WIDTH // 2 :] = (40, 200, 40)
    rgb[HEIGHT // 2 :, : WIDTH // 2] = (40, 40, 200)
    rgb[HEIGHT // 2 :, WIDTH // 2 :] = (230, 230, 230)
    return rgb


def exif(*, orientation: int = 1, focal_35mm: int | None = None) -> bytes:
    tags = Image.Exif()
    tags[0x0112] = orientation
    if focal_35mm is not None:
        tags.get_ifd(0x8769)[0xA405] = focal_35mm
    return tags.tobytes()


def corner_error(rgb: np.ndarray) -> int:
    """Largest difference from `quadrants` at the middle of each quadrant, in levels."""
    assert rgb.shape == (HEIGHT, WIDTH, 3)
    assert rgb.dtype == np.uint8
    rows, columns = (HEIGHT // 4, 3 * HEIGHT // 4), (WIDTH // 4, 3 * WIDTH // 4)
    at = np.ix_(rows, columns)
    return int(np.abs(rgb[at].astype(int) - quadrants()[at]).max())


@pytest.mark.parametrize(
    ("suffix", "options", "levels"),
    [
        ("jpg", {"quality": 95, "subsampling": 0}, LOSSY_LEVELS),
        ("png", {}, LOSSLESS_LEVELS),
        ("tiff", {}, LOSSLESS_LEVELS),
        ("webp", {"lossless": True}, LOSSLESS_LEVELS),
        ("heic", {"quality": 95}, LOSSY_LEVELS),
    ],
)
def test_every_file_kind_keeps_pixels_focal_length_and_name(
    tmp_path: Path, suffix: str, options: dict[str, object], levels: int
) -> None:
    path = tmp_path / f"beads.{suffix}"
    Image.fromarray(quadrants()).save(path, exif=exif(focal_35mm=26), **options)
    photo = load_photo(path)
    assert corner_error(photo.rgb) <= levels
    assert photo.focal_35mm == 26.0
    assert photo.name == f"beads.{suffix}"
    assert photo.rgb.flags.writeable


def test_a_jpeg_with_a_second_picture_opens_where_a_plain_one_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # CIPA DC-007, Multi-Picture Format, in which phones keep a gain map
    first, gain_map = Image.fromarray(quadrants()), Image.new("RGB", (WIDTH // 2, HEIGHT // 2))
    plain, double = tmp_path / "plain.jpg", tmp_path / "double.jpg"
    first.save(plain, quality=95, subsampling=0)
    first.save(double, "MPO", save_all=True, append_images=[gain_map], quality=95, subsampling=0)
    monkeypatch.setattr(module, "MOST_BYTES", JPEG_PIXEL_BYTES * WIDTH * HEIGHT)
    assert np.array_equal(load_photo(double).rgb, load_photo(plain).rgb)
    assert corner_error(load_photo(double).rgb) <= LOSSY_LEVELS


# EXIF 2.3, tag 0x0112: where the picture's 0th row and 0th column lie; the stored array is the
# upright one turned the other way.
STORED = {
    1: lambda upright: upright,
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.transpose(1, 0, 2),
    6: lambda upright: upright.transpose(1, 0, 2)[::-1],
    7: lambda upright: upright.transpose(1, 0, 2)[::-1, ::-1],
    8: lambda upright: upright.transpose(1, 0, 2)[:, ::-1],
}


@pytest.mark.parametrize("suffix", ["jpg", "png", "tiff", "webp"])
@pytest.mark.parametrize("orientation", sorted(STORED))
def test_photo_is_turned_upright(tmp_path: Path, suffix: str, orientation: int) -> None:
    path = tmp_path / f"turned.{suffix}"
    stored = np.ascontiguousarray(STORED[orientation](quadrants()))
    Image.fromarray(stored).save(path, exif=exif(orientation=orientation, focal_35mm=26), quality=95)
    photo = load_photo(path)
    assert corner_error(photo.rgb) <= LOSSY_LEVELS
    assert photo.focal_35mm == 26.0


def test_heic_is_turned_once(tmp_path: Path) -> None:
    path = tmp_path / "turned.heic"
    stored = np.ascontiguousarray(STORED[6](quadrants()))
    Image.fromarray(stored).save(path, exif=exif(orientation=6), quality=95)
    assert corner_error(load_photo(path).rgb) <= LOSSY_LEVELS


def test_heic_is_opened_by_a_program_that_opened_none_before(tmp_path: Path) -> None:
    path = tmp_path / "first.heic"
    Image.fromarray(quadrants()).save(path, quality=95)
    code = "import sys; from vision.image.photo import load_photo; print(load_photo(sys.argv[1]).rgb.shape)"
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, check=True)
    assert done.stdout == f"{quadrants().shape}\n"


# EXIF 2.3, tag 0xA405: 0 means unknown.
@pytest.mark.parametrize(("written", "read"), [(26, 26.0), (0, None), (None, None)])
def test_focal_length_zero_or_missing_is_unknown(
    tmp_path: Path, written: int | None, read: float | None
) -> None:
    path = tmp_path / "focal.jpg"
    Image.fromarray(quadrants()).save(path, exif=exif(focal_35mm=written))
    assert load_photo(path).focal_35mm == read


@pytest.mark.parametrize(
    ("counts", "is_kept"),
    [
        ((WIDTH, HEIGHT), True),
        ((HEIGHT, WIDTH), True),  # not turned with the picture
        ((4 * WIDTH + 2, 4 * HEIGHT - 1), True),  # scaled
        ((0, 0), True),  # not stated
        ((WIDTH + WIDTH // 4, HEIGHT), False),  # a side cut off
        ((2 * WIDTH, HEIGHT + HEIGHT // 2), False),
    ],
)
def test_focal_length_of_another_picture_is_not_kept(
    tmp_path: Path,
    counts: tuple[int, int],
    is_kept: bool,  # noqa: FBT001
) -> None:
    # EXIF 2.3, tags 0xA002 and 0xA003: PixelXDimension and PixelYDimension
    tags = Image.Exif()
    tags.get_ifd(0x8769).update({0xA405: 26, 0xA002: counts[0], 0xA003: counts[1]})
    path = tmp_path / "part.jpg"
    Image.fromarray(quadrants()).save(path, exif=tags.tobytes())
    assert load_photo(path).focal_35mm == (26.0 if is_kept else None)


def test_broken_exif_is_ignored(tmp_path: Path) -> None:
    path = tmp_path / "exif.jpg"
    Image.fromarray(quadrants()).save(path, exif=b"Exif\0\0not a directory", quality=95, subsampling=0)
    photo = load_photo(path)
    assert corner_error(photo.rgb) <= LOSSY_LEVELS
    assert photo.focal_35mm is None


def flat(value: object, mode: str) -> Image.Image:
    return Image.new(mode, (WIDTH, HEIGHT), value)


@pytest.mark.parametrize(
    ("image", "suffix", "rgb"),
    [
        (flat(77, "L"), "png", (77, 77, 77)),
        (flat(1, "1"), "png", (255, 255, 255)),
        (flat(0x8040, "I;16"), "png", (128, 128, 128)),
        (flat(0x8040, "I;16"), "tiff", (128, 128, 128)),
        (flat((10, 20, 30, 255), "RGBA"), "png", (10, 20, 30)),
        (flat((10, 20, 30, 0), "RGBA"), "png", (255, 255, 255)),
        (flat((0, 0, 0, 51), "RGBA"), "webp", (204, 204, 204)),
        (flat((60, 255), "LA"), "png", (60, 60, 60)),
        (flat((0, 255, 255, 0), "CMYK"), "tiff", (255, 0, 0)),
        (flat((10, 20, 30), "RGB").quantize(4), "png", (10, 20, 30)),
        # CIE Lab: a = b = 0 (stored as 128) is grey; L* = 50 reflects 0.1842, which sRGB codes as 119.
        (Image.merge("LAB", [flat(v, "L") for v in (128, 128, 128)]), "tiff", (119, 119, 119)),
    ],
    ids=lambda value: value.mode if isinstance(value, Image.Image) else None,
)
def test_pixel_formats(tmp_path: Path, image: Image.Image, suffix: str, rgb: tuple[int, int, int]) -> None:
    path = tmp_path / f"flat.{suffix}"
    image.save(path, lossless=True)
    assert np.abs(load_photo(path).rgb[5, 7].astype(int) - rgb).max() <= 1


def test_cmyk_jpeg(tmp_path: Path) -> None:
    path = tmp_path / "press.jpg"
    flat((0, 255, 255, 0), "CMYK").save(path, quality=95)
    assert np.abs(load_photo(path).rgb[5, 7].astype(int) - (255, 0, 0)).max() <= LOSSY_LEVELS


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width: int, height: int, bits: int, rows: bytes) -> bytes:
    """Return a PNG file written by hand: ISO/IEC 15948, colour type 2 (RGB)."""
    header = struct.pack(">IIBBBBB", width, height, bits, 2, 0, 0, 0)
    body = png_chunk(b"IHDR", header) + png_chunk(b"IDAT", zlib.compress(rows)) + png_chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def test_sixteen_bit_colour(tmp_path: Path) -> None:
    path = tmp_path / "deep.png"
    row = b"\0" + struct.pack(">HHH", 0x4080, 0x80FF, 0xC000) * WIDTH
    path.write_bytes(png(WIDTH, HEIGHT, 16, row * HEIGHT))
    assert load_photo(path).rgb[3, 4].tolist() == [0x40, 0x80, 0xC0]


# Adobe RGB (1998) Color Image Encoding, annex on ICC profiles: colorants adapted to D50, gamma 563/256.
WIDE_COLORANTS = np.array(
    [(0.60974, 0.20528, 0.14919), (0.31111, 0.62567, 0.06322), (0.01947, 0.06087, 0.74457)]
)
WIDE_GAMMA = 563 / 256
# IEC 61966-2-1 primaries adapted to D50, as in the ICC's own sRGB profile.
SRGB_COLORANTS = np.array(
    [(0.43607, 0.38515, 0.14307), (0.22249, 0.71687, 0.06061), (0.01392, 0.09708, 0.71410)]
)


def wide_profile() -> bytes:
    """Return a matrix profile written by hand: ICC.1, version 2."""

    def fixed(values: np.ndarray) -> bytes:
        return b"".join(struct.pack(">i", round(float(value) * 65536)) for value in values)

    white = np.array([0.9642, 1.0, 0.8249])
    curve = b"curv\0\0\0\0" + struct.pack(">IHH", 1, round(WIDE_GAMMA * 256), 0)
    name = b"wide\0"
    text = b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + bytes(8 + 3 + 67)
    bodies = {
        b"desc": text.ljust((len(text) + 3) // 4 * 4, b"\0"),
        b"cprt": b"text\0\0\0\0none\0\0\0\0",
        b"wtpt": b"XYZ \0\0\0\0" + fixed(white),
        **{
            tag: b"XYZ \0\0\0\0" + fixed(column)
            for tag, column in zip((b"rXYZ", b"gXYZ", b"bXYZ"), WIDE_COLORANTS.T, strict=True)
        },
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    offset = 128 + 4 + 12 * len(bodies)
    table, data = struct.pack(">I", len(bodies)), b""
    for tag, body in bodies.items():
        table += tag + struct.pack(">II", offset + len(data), len(body))
        data += body
    size = struct.pack(">I", offset + len(data))
    header = size + b"\0\0\0\0\x02\x10\0\0mntrRGB XYZ " + bytes(12) + b"acsp" + bytes(28) + fixed(white)
    return header.ljust(128, b"\0") + table + data


def wide_to_srgb(rgb: tuple[int, int, int]) -> np.ndarray:
    linear = np.linalg.solve(SRGB_COLORANTS, WIDE_COLORANTS @ (np.array(rgb) / 255) ** WIDE_GAMMA)
    return 255 * coded(linear)


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_embedded_profile_is_converted_to_srgb(tmp_path: Path, mode: str) -> None:
    path = tmp_path / "wide.png"
    wide = (150, 100, 60)
    flat(wide + (255,) * (mode == "RGBA"), mode).save(path, icc_profile=wide_profile())
    expected = wide_to_srgb(wide)
    assert abs(expected[0] - wide[0]) > 10
    assert np.abs(load_photo(path).rgb[5, 7] - expected).max() <= 1.5


@pytest.mark.parametrize("profile", [b"no profile at all", wide_profile()], ids=["broken", "other channels"])
def test_profile_that_does_not_fit_is_ignored(tmp_path: Path, profile: bytes) -> None:
    path = tmp_path / "grey.png"
    flat(77, "L").save(path, icc_profile=profile)
    assert load_photo(path).rgb[5, 7].tolist() == [77, 77, 77]


def jpeg_bytes() -> bytes:
    stream = io.BytesIO()
    noise = np.random.default_rng(4).integers(0, 256, (HEIGHT, WIDTH, 3), np.uint8)
    Image.fromarray(noise).save(stream, "JPEG")
    return stream.getvalue()


def floating() -> bytes:
    stream = io.BytesIO()
    flat(0.5, "F").save(stream, "TIFF")
    return stream.getvalue()


side = int((MOST_BYTES / PNG_PIXEL_BYTES) ** 0.5) + 1


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", r"empty \(0 bytes\)"),
        (b"number,across\n1,6.5\n", "no JPEG, PNG, TIFF, WebP or HEIC picture was found"),
        (jpeg_bytes()[:-3000], r"cut short or damaged \(.*truncated"),
        (
            png(side, side, 8, b"\0"),
            f"{side} x {side} pixels take 0.8 GB of memory to open, more than 0.8 GB",
        ),
        (png(20_000, 10_000, 16, b"\0"), r"take 1.4 GB .* a longer side of 15118 pixels at most"),
        (png(199, 400, 8, (b"\0" + bytes(3 * 199)) * 400), "199 x 400 pixels are too few"),
        (png(WIDTH, HEIGHT, 8, b"\0"), "cut short or damaged"),
        (floating(), "32-bit samples have no fixed white"),
    ],
    ids=["empty", "text", "truncated", "bomb", "deep bomb", "small", "no rows", "float"],
)
def test_unreadable_content_is_refused_in_one_line(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    with pytest.raises(UnreadablePhotoError, match=message) as refusal:
        load_photo(path)
    assert str(refusal.value).startswith(str(path))
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("suffix", ["jpg", "png", "tiff", "webp", "heic"])
@pytest.mark.parametrize("kept", [0.02, 0.5, 0.9])
def test_cut_files_never_escape_as_another_error(tmp_path: Path, suffix: str, kept: float) -> None:
    whole, cut = tmp_path / f"whole.{suffix}", tmp_path / f"cut.{suffix}"
    Image.open(io.BytesIO(jpeg_bytes())).save(whole)
    cut.write_bytes(whole.read_bytes()[: int(kept * whole.stat().st_size)])
    with pytest.raises(UnreadablePhotoError, match=r"cut short or damaged|picture was found"):
        load_photo(cut)


def test_a_film_is_no_damaged_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # It begins as a WebP does, so that the opener of HEIC files is not there.
    monkeypatch.delitem(Image.OPEN, "HEIF")
    path = tmp_path / "film.jpg"
    path.write_bytes(b"RIFF\0\0\1\0AVI LIST" + bytes(200))
    with pytest.raises(UnreadablePhotoError, match="picture was found in this file"):
        load_photo(path)


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadablePhotoError, match="no such file"):
        load_photo(tmp_path / "missing.jpg")


def test_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadablePhotoError, match="this is a folder, not a photo"):
        load_photo(tmp_path)


def test_name_no_file_can_have_is_refused() -> None:
    with pytest.raises(UnreadablePhotoError, match="cannot be opened"):
        load_photo("a\0b.jpg")


@pytest.mark.parametrize(("suffix", "levels"), [(".png", LOSSLESS_LEVELS), (".JPG", LOSSY_LEVELS)])
def test_encoded_image_opens_again(tmp_path: Path, suffix: str, levels: int) -> None:
    path = tmp_path / f"copy{suffix}"
    path.write_bytes(encode_image(quadrants(), suffix))
    assert corner_error(load_photo(path).rgb) <= levels


def test_encoded_density_is_kept() -> None:
    data = encode_image(np.full((40, 60), 255, np.uint8), ".png", dpi=600)
    with Image.open(io.BytesIO(data)) as image:
        # pHYs holds whole pixels a metre: 600 / 0.0254 = 23622.05.
        assert image.info["dpi"] == pytest.approx((600, 600), abs=0.02)
        assert image.mode == "L"


def test_other_suffixes_are_not_encoded() -> None:
    with pytest.raises(ValueError, match=r"one of \.jpg, \.jpeg, \.png, got '\.gif'"):
        encode_image(quadrants(), ".gif")
