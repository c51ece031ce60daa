"""Stores a trained network of the top view in parts, which run tile by tile (`vision/networks/levels.py`).

python -m tests.training.parts NAME.onnx vision/networks
"""

import argparse
from pathlib import Path

import onnx
from onnx import helper
from onnx.utils import Extractor

from vision.networks.levels import FINE

Ends = tuple[list[str], list[str]]
FOUR = 4  # dimensions of a convolution's weights


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
    made = {name: node for node in model.graph.node for name in node.output}
    parts = _ends(model)
    known = {info.name for info in model.graph.value_info}
    for name in {name for ends in parts for side in ends for name in side if name in made} - known:
        model.graph.value_info.append(_cells(name, made, model))
    extractor = Extractor(model)
    for number, (before, after) in enumerate(parts):
        part = extractor.extract_model(before, after)
        onnx.checker.check_model(part)
        onnx.save(part, str(folder / f"{whole.stem}-{number}.onnx"))


def _cells(name: str, made: dict[str, onnx.NodeProto], model: onnx.ModelProto) -> onnx.ValueInfoProto:
    """Return what the cells are that stand under a name: how many features, in integers or not."""
    features = {one.name: one.dims[0] for one in model.graph.initializer if len(one.dims) == FOUR}
    node = made[name]
    whole = node.op_type == "QuantizeLinear"
    while not (weights := features.keys() & set(node.input)):
        node = made[node.input[0]]
    whole = whole or node.op_type == "QLinearConv"
    kind = onnx.TensorProto.UINT8 if whole else onnx.TensorProto.FLOAT
    return helper.make_tensor_value_info(name, kind, [1, features[weights.pop()], "rows", "columns"])


def in_parts(path: Path) -> list[Path]:
    """Return the files of a network in their order: itself where it is whole."""
    return [path] if path.exists() else sorted(path.parent.glob(f"{path.stem}-*.onnx"))


def _ends(model: onnx.ModelProto) -> list[Ends]:
    """Return what goes into each part and what comes out of it, by name; in integers, if it is needed so."""
    rounded = {node.input[0]: node.output[0] for node in model.graph.node if node.op_type == "QuantizeLinear"}
    pools = [node for node in model.graph.node if node.op_type == "MaxPool"]
    fine = [rounded.get(pool.input[0], pool.input[0]) for pool in pools]
    coarser = ["cells", *(rounded.get(pool.output[0], pool.output[0]) for pool in pools)]
    joined = ["maps", *[node.input[0] for node in model.graph.node if node.op_type == "Resize"][::-1]]
    ahead = [([coarser[k]], [fine[k], coarser[k + 1]]) for k in range(FINE)]
    back = [([fine[k], joined[k + 1]], [joined[k]]) for k in reversed(range(FINE))]
    return [*ahead, ([coarser[FINE]], [joined[FINE]]), *back]


if __name__ == "__main__":
    main()
