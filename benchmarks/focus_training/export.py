"""The network as files that need no PyTorch: the trunk as ONNX, the head as arrays."""

from __future__ import annotations

import copy
import itertools
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from benchmarks.focus_training.network import LEVELS, Block, Network, Trunk

OPSET = 17


def write(network: Network, folder: Path) -> None:
    """blur_trunk.onnx and blur_head.npz."""
    folder.mkdir(parents=True, exist_ok=True)
    trunk = copy.deepcopy(network.trunk).cpu().float().to(memory_format=torch.contiguous_format).eval()
    _fuse(trunk)
    torch.onnx.export(
        trunk, (torch.zeros(1, 1, 256, 320),), str(folder / "blur_trunk.onnx"), dynamo=False,
        input_names=["luma"], output_names=["features", "tiles"], opset_version=OPSET,
        dynamic_axes={"luma": {2: "rows", 3: "columns"}, "features": {2: "tile_rows", 3: "tile_columns"},
                      "tiles": {2: "tile_rows", 3: "tile_columns"}},
    )  # fmt: skip
    head = {name: value.cpu().numpy().astype(np.float32) for name, value in network.head.state_dict().items()}
    np.savez(folder / "blur_head.npz", levels=np.array(LEVELS), **head)  # type: ignore[arg-type]


def _fuse(trunk: Trunk) -> None:
    """Batch norms into the convolutions before them."""
    for one in trunk.modules():
        if isinstance(one, Block):
            one.spread, one.norm = fuse_conv_bn_eval(one.spread, one.norm), nn.Identity()  # type: ignore[assignment]
    stages = list(trunk.stages)
    for place, (first, second) in enumerate(itertools.pairwise(list(stages))):
        if isinstance(first, nn.Conv2d) and isinstance(second, nn.BatchNorm2d):
            stages[place], stages[place + 1] = fuse_conv_bn_eval(first, second), nn.Identity()
    trunk.stages = nn.Sequential(*stages)
