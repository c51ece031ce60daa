"""Stores a trained network of the top view in parts, which run tile by tile (`vision/networks/levels.py`).

python -m tests.training.parts NAME.onnx vision/networks
"""

import argparse
from pathlib import Path

import onnx
from onnx.utils import Extractor

from vision.networks.levels import FINE

Ends = tuple[list[str], list[str]]


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("network", type=Path)
    parser.add_argument("folder", type=Path)
    given = parser.parse_args()
    split(given.network, given.folder)


def split(whole: Path, folder: Path) -> None:
    """Write the parts of a network: the finest levels ahead, the coarser ones as one, the finest back."""
    model = onnx.shape_inference.infer_shapes(onnx.load(str(whole)))
    extractor = Extractor(model)
    for number, (before, after) in enumerate(_ends(model)):
        part = extractor.extract_model(before, after)
        onnx.checker.check_model(part)
        onnx.save(part, str(folder / f"{whole.stem}-{number}.onnx"))


def in_parts(path: Path) -> list[Path]:
    """Return the files of a network in their order: itself where it is whole."""
    return [path] if path.exists() else sorted(path.parent.glob(f"{path.stem}-*.onnx"))


def _ends(model: onnx.ModelProto) -> list[Ends]:
    """Return what goes into each part and what comes out of it, by name."""
    pools = [node for node in model.graph.node if node.op_type == "MaxPool"]
    levels = [node.input[0] for node in model.graph.node if node.op_type == "Resize"][::-1]
    coarser = ["cells", *(pool.output[0] for pool in pools)]
    joined = ["maps", *levels]
    ahead = [([coarser[k]], [pools[k].input[0], coarser[k + 1]]) for k in range(FINE)]
    back = [([pools[k].input[0], joined[k + 1]], [joined[k]]) for k in reversed(range(FINE))]
    return [*ahead, ([coarser[FINE]], [joined[FINE]]), *back]


if __name__ == "__main__":
    main()
