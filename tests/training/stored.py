"""Writes a trained network as ONNX, and takes over the weights of one that was written."""

import copy
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import nn

from tests.training.network import Block, Features, Network
from tests.training.parts import in_parts

LAYERS = {"Conv", "QLinearConv", "Gemm"}
Weights = tuple[np.ndarray, np.ndarray]


def export(network: Network, path: Path) -> None:
    """Write the network as ONNX, without its first step, which folds two by two cells into channels.

    OpenCV folds them in another order, so the program does that step itself.
    """
    axes = dict.fromkeys(("cells", "maps"), network.any_size)
    whole = copy.deepcopy(network).float().cpu().eval()
    whole.forward = whole.folded
    names = {"input_names": ["cells"], "output_names": ["maps"], "dynamic_axes": axes}
    cells = torch.zeros(1, 4 * network.channels, network.side, network.side)
    torch.onnx.export(whole, (cells,), str(path), dynamo=False, **names)


@torch.no_grad()
def load_onnx(network: Network, path: Path) -> None:
    """Take over the weights of an exported network, which may have fewer maps and fewer features.

    Normalisation was folded into the convolutions as they were exported. New features change nothing at first
    (Chen, Goodfellow & Shlens 2016, "Net2Net").
    """
    graphs = [onnx.load(str(part)).graph for part in in_parts(path)]
    values = {one.name: numpy_helper.to_array(one) for graph in graphs for one in graph.initializer}
    nodes = [node for graph in graphs for node in graph.node]
    stored = iter([_stored(node, values) for node in nodes if node.op_type in LAYERS])
    kept, last = [], (4 * network.channels,) * 2
    for block in network.down:
        last = _take_block(block, [last], stored)
        kept.append(last)
    for before, block in zip(reversed(kept[:-1]), reversed(network.up), strict=True):
        last = _take_block(block, [before, last], stored)
    for layer, groups in network.ends(deep=kept[-1], fine=last):
        _take(layer, groups, *next(stored))


def _take_block(block: Block, given: list[Features], stored: Iterator[Weights]) -> Features:
    """Take over a block's weights; return its numbers of features."""
    layers = [layer for layer in block.layers if not isinstance(layer, nn.ReLU)]
    for convolution, norm in zip(layers[::2], layers[1::2], strict=True):
        weight, bias = next(stored)
        _take(convolution, given, weight, np.zeros(0))
        norm.bias[: len(bias)] = torch.from_numpy(bias.astype(np.float32))
        norm.running_var.fill_(1 - norm.eps)
        given = [(len(weight), convolution.out_channels)]
    return given[0]


def _take(layer: nn.Module, given: list[Features], weight: np.ndarray, bias: np.ndarray) -> None:
    """Take over a layer's weights; what it computed before sees nothing of the new features."""
    layer.weight[: len(weight)] = 0
    old = new = 0
    for before, now in given:
        taken = torch.from_numpy(weight[:, old : old + before].astype(np.float32))
        layer.weight[: len(weight), new : new + before] = taken.to(layer.weight)
        old, new = old + before, new + now
    if len(bias):
        layer.bias[: len(bias)] = torch.from_numpy(bias.astype(np.float32)).to(layer.bias)


@torch.no_grad()
def settle(network: Network, shown: torch.Tensor) -> None:
    """Let each layer normalise by what it gets of a batch (N, C, H, W); the network computes what it did.

    A network that was read from a file normalises nothing. Training normalises by each batch, and so would
    begin with another network.
    """

    def normalised(norm: nn.BatchNorm2d, given: tuple[torch.Tensor]) -> None:
        cells = given[0].float()
        mean, spread = cells.mean(dim=(0, 2, 3)), cells.var(dim=(0, 2, 3), correction=0)
        slope = norm.weight / torch.sqrt(norm.running_var + norm.eps)
        norm.bias += slope * (mean - norm.running_mean)
        norm.weight.copy_(slope * torch.sqrt(spread + norm.eps))
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(spread)

    norms = [layer for layer in network.modules() if isinstance(layer, nn.BatchNorm2d)]
    hooks = [norm.register_forward_pre_hook(normalised) for norm in norms]
    network.eval()(shown)
    for hook in hooks:
        hook.remove()


def _stored(node: onnx.NodeProto, values: dict[str, np.ndarray]) -> Weights:
    """Return the weights and the bias of a layer, which may be stored in integers."""
    if node.op_type in {"Conv", "Gemm"}:
        return values[node.input[1]], values[node.input[2]]
    scale = values[node.input[4]].reshape(-1)
    weight = values[node.input[3]] * scale[:, None, None, None]
    return weight, values[node.input[8]] * (values[node.input[1]] * scale)
