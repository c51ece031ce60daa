"""What a maker who codes would write instead: markers, a homography, a threshold, a watershed, sizes.

It stands beside the program to compare times (`tests/benchmark.py`), not results: it knows no camera, no
height of a bead, no clear glass and no uncertainty. It uses general-purpose libraries and of this project
only where the markers of the printed sheets lie::

    python -m tests.peer PHOTO
"""

import json
import sys

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.feature import peak_local_max
from skimage.filters import threshold_otsu
from skimage.measure import regionprops
from skimage.segmentation import watershed

from vision.sheet.geometry import SHEETS, TAG_FAMILY

CELLS_PER_MM = 10
"""Of the rectified picture: about the photo's own pixels (common practice, no source)."""
SMALLEST_MM = 1.5
"""Narrower blobs are specks (common practice, no source)."""


def main() -> None:
    """Print the length and width of every blob of a photo, mm, as JSON."""
    print(json.dumps(sizes_mm(np.asarray(cv2.imread(sys.argv[1]), np.uint8))))


def sizes_mm(bgr: NDArray[np.uint8]) -> list[dict[str, float]]:
    """Return the length and width of every blob on the bed of a photo."""
    bed = rectified(bgr)
    blobs = separated(bed)
    return [
        {
            "length_mm": blob.axis_major_length / CELLS_PER_MM,
            "width_mm": blob.axis_minor_length / CELLS_PER_MM,
        }
        for blob in regionprops(blobs)
        if blob.axis_minor_length > SMALLEST_MM * CELLS_PER_MM
    ]


def rectified(bgr: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the bed of the sheet as seen from above."""
    grey = cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(TAG_FAMILY).detectMarkers(grey)
    numbers = [int(number) for number in ids.ravel()]
    sheet = max(SHEETS.values(), key=lambda sheet: sum(number in sheet.ids for number in numbers))
    mine = [k for k, number in enumerate(numbers) if number in sheet.ids]
    seen = np.concatenate([corners[k].reshape(4, 2) for k in mine])
    drawn = np.concatenate([sheet.corners_mm(numbers[k]) for k in mine])
    left, top, right, bottom = sheet.bed_mm or (0.0, sheet.page_mm[1], 250.0, 250.0)
    to_cells, _ = cv2.findHomography(seen, (drawn - (left, top)) * CELLS_PER_MM, cv2.RANSAC)
    size = round((right - left) * CELLS_PER_MM), round((bottom - top) * CELLS_PER_MM)
    return np.asarray(cv2.warpPerspective(bgr, to_cells, size), np.uint8)


def separated(bed: NDArray[np.uint8]) -> NDArray[np.int32]:
    """Return the number of the blob that each cell of a bed belongs to; 0: to none."""
    lab = cv2.cvtColor(cv2.GaussianBlur(bed, (0, 0), 2), cv2.COLOR_BGR2LAB).astype(np.float32)
    off = np.linalg.norm(lab - np.median(lab, axis=(0, 1)), axis=2)
    inside = ndimage.binary_fill_holes(ndimage.binary_opening(off > threshold_otsu(off), iterations=3))
    depth = ndimage.distance_transform_edt(inside)
    summits = peak_local_max(depth, min_distance=int(SMALLEST_MM * CELLS_PER_MM), exclude_border=False)
    seeds = np.zeros(depth.shape, np.int32)
    seeds[tuple(summits.T)] = np.arange(1, len(summits) + 1)
    return np.asarray(watershed(-depth, seeds, mask=inside))


if __name__ == "__main__":
    main()
