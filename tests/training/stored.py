"""Writes a trained network as ONNX, and takes over the weights of one that was written."""

import copy
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import nn

from tests.training.network import Network
from tests.training.parts import in_parts


def export(network: Network, path: Path) -> None:
    """Write the network as ONNX, without its first step, which folds two by two cells into channels.

    OpenCV folds them in another order, so the program does that step itself.
    """
    axes = dict.fromkeys(("cells", "maps"), network.any_size)
    whole = copy.deepcopy(network).float().cpu().eval()
    whole.forward = whole.folded
    names = {"input_names": ["cells"], "output_names": ["maps"], "dynamic_axes": axes}
    cells = torch.zeros(1, 4 * network.channels, 32, 32)
    torch.onnx.export(whole, (cells,), str(path), dynamo=False, **names)


@torch.no_grad()
def load_onnx(network: Network, path: Path) -> None:
    """Take over the weights of an exported network, which may have fewer maps.

    Normalisation was folded into the convolutions as they were exported.
    """
    graphs = [onnx.load(str(part)).graph for part in in_parts(path)]
    values = {one.name: numpy_helper.to_array(one) for graph in graphs for one in graph.initializer}
    nodes = [node for graph in graphs for node in graph.node]
    stored = [_stored(node, values) for node in nodes if node.op_type in {"Conv", "QLinearConv"}]
    blocks = [*network.down, *reversed(network.up)]
    layers = [layer for block in blocks for layer in block.layers if not isinstance(layer, nn.ReLU)]
    for convolution, norm, (weight, bias) in zip(layers[::2], layers[1::2], stored, strict=False):
        convolution.weight.copy_(torch.from_numpy(weight.astype(np.float32)))
        norm.weight.fill_(1)
        norm.bias.copy_(torch.from_numpy(bias.astype(np.float32)))
        norm.running_mean.zero_()
        norm.running_var.fill_(1 - norm.eps)
    weight, bias = stored[-1]
    network.head.weight[: len(weight)] = torch.from_numpy(weight.astype(np.float32)).to(network.head.weight)
    network.head.bias[: len(bias)] = torch.from_numpy(bias.astype(np.float32)).to(network.head.bias)


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


def _stored(node: onnx.NodeProto, values: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return the weights and the bias of a convolution, which may be stored in integers."""
    if node.op_type == "Conv":
        return values[node.input[1]], values[node.input[2]]
    scale = values[node.input[4]].reshape(-1)
    weight = values[node.input[3]] * scale[:, None, None, None]
    return weight, values[node.input[8]] * (values[node.input[1]] * scale)
