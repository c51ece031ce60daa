"""Pictures of kept beads: a small one, and the photo itself where its maker wishes.

Both are made anew from pixels, so nothing that the phone noted in the photo, as the place, is kept.
"""

import cv2

from sizing.stash.book import Book
from sizing.stash.entries import Entry
from vision.common.records import ImageArray, Photo
from vision.image.photo import encode_image

_THUMBNAIL_PX = 240
"""The longer side: on the screen of a phone a third of its width. At half a bead is a dot, at double it takes
four times the room."""
_JFIF = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00"  # how a JPEG without EXIF begins: ITU-T T.871, 10.1
_MADE_BY = b"strandgauge"
_HEAD_BYTES = 64  # JFIF takes 20 of them, the comment with the program's name 15


def thumbnail(rgb: ImageArray) -> bytes:
    """Return a small JPEG of a picture.

    Parameters
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
        sRGB pixels of any size.
    """
    height, width = rgb.shape[:2]
    scale = _THUMBNAIL_PX / max(height, width)
    if scale < 1:
        size = max(round(width * scale), 1), max(round(height * scale), 1)
        rgb = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).astype("uint8")
    return encode_image(rgb, ".jpg")


def is_picture(jpeg: bytes) -> bool:
    """Return whether these are the bytes of a JPEG that this program wrote, which has no EXIF in it."""
    return jpeg.startswith(_JFIF) and _MADE_BY in jpeg[:_HEAD_BYTES] and b"Exif\0" not in jpeg


def keep_photo(book: Book, entry: Entry, photo: Photo) -> int:
    """Keep the photo of an entry in place of an earlier one, and return how many bytes it takes.

    Parameters
    ----------
    book : Book
        Open for `writing`.
    """
    jpeg = encode_image(photo.rgb, ".jpg")
    insert_photo(book, entry.number, jpeg)
    return len(jpeg)


def insert_photo(book: Book, number: int, jpeg: bytes) -> None:
    """Write the photo of an entry in place of an earlier one."""
    book.execute("INSERT OR REPLACE INTO photo (entry, jpeg) VALUES (?, ?)", (number, jpeg))


def photo_of(book: Book, entry: Entry) -> bytes | None:
    """Return the photo of an entry, a JPEG; None where it was not kept."""
    row = book.execute("SELECT jpeg FROM photo WHERE entry = ?", (entry.number,)).fetchone()
    return row[0] if row else None


def delete_photo(book: Book, entry: Entry) -> bool:
    """Delete the photo of an entry, and return whether there was one."""
    return book.execute("DELETE FROM photo WHERE entry = ?", (entry.number,)).rowcount > 0
