"""Stores a trained network in integers of eight bits, which run three times as fast as floating point.

Over which range each of its layers works is learnt from photos, drawn ones as in training, which are
measured with the network as it is, and from samples that the network was taught by, as `tests.rendering`
writes them, among them::

    python -m tests.synthetic.photos PHOTOS --count 10
    python -m tests.training.quantise NETWORK.onnx PHOTOS

The first layer and what follows the last but one stay in floating point: that costs a tenth of the time and
halves what rounding does to probabilities. So does the second of the top view's networks. Weights have seven
bits, as products of eight overflow on processors that add them in pairs of sixteen: so every computer gets
the same results.
"""

import argparse
import contextlib
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest import mock

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import numpy_helper
from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static

from vision.common.errors import PhotoError
from vision.image.photo import load_photo
from vision.measure import measure_lot, measure_strands
from vision.networks import inference, levels
from vision.pieces.second_look import network_input
from vision.topview import bead_map

Inputs = list[NDArray[np.float32]]
TOP_VIEW = ("beads", "kinds")
INTEGER_LAYERS = {"Conv", "Relu", "MaxPool", "Resize", "Concat"}


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("network", type=Path)
    parser.add_argument("photos", type=Path, help="folder")
    given = parser.parse_args()
    singles(given.network)
    quantise(given.network, inputs_of(given.network.stem, given.photos))


def singles(path: Path) -> None:
    """Store the weights of a network, some of which may be in half precision, in single precision."""
    model = onnx.load(str(path))
    for weights in model.graph.initializer:
        values = numpy_helper.to_array(weights)
        if values.dtype == np.float16:
            weights.CopyFrom(numpy_helper.from_array(values.astype(np.float32), weights.name))
    onnx.save(model, str(path))


def inputs_of(name: str, folder: Path) -> Inputs:
    """Return what a network gets while photos are measured, as strands and as loose beads, and of tables."""
    seen: Inputs = []
    plain, plain_tiles = inference.run, levels.each_tile

    def noted(asked: str, cells: NDArray[np.float32]) -> NDArray[np.float32]:
        if asked == name:
            seen.append(cells)
        return plain(asked, cells)

    def noted_picture(asked: str, picture: levels.Cells, **how: Any) -> None:  # noqa: ANN401
        if asked == name:
            cells = levels.folded(picture)
            seen.append((levels.LIGHT[cells] if cells.dtype == np.uint8 else cells)[None])
        plain_tiles(asked, picture, **how)

    with (
        mock.patch.object(inference, "run", noted),
        mock.patch.object(levels, "each_tile", noted_picture),
        mock.patch.object(bead_map, "each_tile", noted_picture),
    ):
        for path in sorted(folder.glob("*.jpg")):
            for measure in (measure_strands, measure_lot):
                with contextlib.suppress(PhotoError):
                    measure(load_photo(path), check_length_mm=None, check_length_u_mm=0.0, bed_height_mm=0.0)
    samples = (np.load(sample) for sample in sorted(folder.glob("[0-9]*.npz")))
    return seen + [shown for sample in samples if (shown := _shown(name, sample)) is not None]


def _shown(name: str, sample: dict[str, NDArray[Any]]) -> NDArray[np.float32] | None:
    """Return what a network gets of a sample: top view, pieces or close-ups; None where it is not for it."""
    if name in TOP_VIEW and "rgb" in sample:
        return levels.LIGHT[levels.folded(sample["rgb"])][None]
    if name == "pieces" and "cells" in sample:
        return inference.folded_all(network_input(sample["seen"], sample["cells"]))
    if name.startswith("loose") and "facts" in sample:
        seen, facts = sample["seen"][..., :4], sample["facts"]
        everywhere = np.broadcast_to(facts[:, None, None], (*seen.shape[:3], facts.shape[1]))
        pictures = np.concatenate([seen / 255 - inference.MID_GREY, everywhere], axis=3)
        return inference.folded_all(pictures.astype(np.float32))
    return None


def quantise(path: Path, inputs: Inputs) -> None:
    """Store a network in integers of eight bits."""
    nodes = onnx.load(str(path)).graph.node
    layers = [node.name for node in nodes if node.op_type == "Conv"]
    others = [node.name for node in nodes if node.op_type not in INTEGER_LAYERS]
    first = layers[: 2 if path.stem in TOP_VIEW else 1]
    with TemporaryDirectory() as folder:
        whole = Path(folder) / path.name
        whole.write_bytes(path.read_bytes())
        quantize_static(
            whole,
            path,
            _Inputs(inputs),
            quant_format=QuantFormat.QOperator,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            per_channel=True,
            reduce_range=True,
            nodes_to_exclude=[*first, layers[-1], *others],
        )


class _Inputs(CalibrationDataReader):
    """Hands out the inputs one after the other."""

    def __init__(self, inputs: Inputs) -> None:
        self.left = iter(inputs)

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        """Return the next input by its name, None after the last."""
        return next(({"cells": cells} for cells in self.left), None)


if __name__ == "__main__":
    main()
