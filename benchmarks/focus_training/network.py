"""The network: a trunk that turns luma into numbers for each tile of 16 px, a head that reads sets of tiles.

The trunk is what takes the time, and runs from ONNX; the head is a few small matrices, and runs in numpy
(auditor/focus/network.py). So several places of one region are read for the price of one.
"""

from __future__ import annotations

import itertools

import torch
from torch import Tensor, nn
from torch.nn import functional as nnf

CHANNELS = (16, 32, 64, 112)
BLOCKS = (1, 2, 6)
LOOKS = 6
"""Ways in which the head weighs tiles."""
LEVELS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95)
HIDDEN = 128


class Squash(nn.Module):
    """x / (1 + |x|): faint detail and strong edges both leave a mark."""

    def forward(self, x: Tensor) -> Tensor:
        return x / (1 + x.abs())


class Block(nn.Module):
    """Depthwise 5 x 5, wider, back, and added to what came in."""

    def __init__(self, channels: int, *, whole: bool = False) -> None:
        super().__init__()
        self.spread = nn.Conv2d(channels, channels, 5, padding=2, groups=channels, bias=False)
        self.norm = nn.BatchNorm2d(channels)
        self.wide = nn.Conv2d(channels, 2 * channels, 1)
        self.back = nn.Conv2d(2 * channels, channels, 1)
        self.whole = nn.Linear(channels, 2 * channels) if whole else None

    def forward(self, x: Tensor) -> Tensor:
        inner = self.wide(self.norm(self.spread(x)))
        if self.whole is not None:
            # What holds for the whole region (noise, sharpening) bears on every tile.
            inner = inner + self.whole(x.mean((2, 3)))[:, :, None, None]
        return x + self.back(nnf.relu(inner))


class Trunk(nn.Module):
    """(pictures, 1, side, side), 0 to 1, to (pictures, channels, tiles, tiles)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Conv2d(1, CHANNELS[0], 7, stride=2, padding=3)
        self.squash = Squash()
        stages: list[nn.Module] = []
        for number, (before, after) in enumerate(itertools.pairwise(CHANNELS)):
            stages += [
                nn.Conv2d(before, after, 3, stride=2, padding=1, bias=False),
                nn.BatchNorm2d(after),
                nn.ReLU(),
            ]
            stages += [Block(after, whole=number == len(BLOCKS) - 1) for _block in range(BLOCKS[number])]
        self.stages = nn.Sequential(*stages)
        self.tile = nn.Conv2d(CHANNELS[-1], 2, 1)
        with torch.no_grad():
            # Differences between neighbours count from the start, not brightness.
            self.stem.weight -= self.stem.weight.mean((2, 3), keepdim=True)
            self.stem.weight *= 30

    def forward(self, luma: Tensor) -> tuple[Tensor, Tensor]:
        features = self.stages(self.squash(self.stem(luma - 0.5)))
        return features, self.tile(features)


class Head(nn.Module):
    """A weighted set of tiles to quantiles of log2 blur, of log2 whole blur, motion and its direction."""

    def __init__(self) -> None:
        super().__init__()
        channels = CHANNELS[-1]
        self.look = nn.Linear(channels, LOOKS)
        self.first = nn.Linear(channels * (LOOKS + 2), HIDDEN)
        self.second = nn.Linear(HIDDEN, HIDDEN)
        self.out = nn.Linear(HIDDEN, 2 * len(LEVELS) + 3)

    def forward(self, features: Tensor, weight: Tensor) -> Tensor:
        """features (pictures, channels, tiles, tiles); weight (pictures, tiles, tiles), 0 leaves out."""
        tiles = features.flatten(2).transpose(1, 2)
        share = weight.flatten(1)
        share = share / share.sum(1, keepdim=True)
        looks = self.look(tiles) + torch.log(share.clamp(min=1e-9))[..., None]
        seen = torch.softmax(looks, 1).transpose(1, 2) @ tiles
        mean = (tiles * share[..., None]).sum(1)
        spread = ((tiles - mean[:, None]) ** 2 * share[..., None]).sum(1).add(1e-6).sqrt()
        row = torch.cat([seen.flatten(1), mean, spread], 1)
        inner = nnf.relu(self.first(row))
        inner = inner + nnf.relu(self.second(inner))
        return self.out(inner)


def quantiles(raw: Tensor) -> Tensor:
    """Ordered quantiles from a middle and steps away from it."""
    count = raw.shape[1]
    half = count // 2
    middle = raw[:, half : half + 1]
    below = middle - nnf.softplus(raw[:, :half]).flip(1).cumsum(1).flip(1)
    above = middle + nnf.softplus(raw[:, half + 1 :]).cumsum(1)
    return torch.cat([below, middle, above], 1)


class Told:
    """What the head says, taken apart."""

    def __init__(self, raw: Tensor) -> None:
        count = len(LEVELS)
        raw = raw.float()
        self.sigma = quantiles(raw[:, :count])
        self.whole = quantiles(raw[:, count : 2 * count])
        self.motion = raw[:, 2 * count]
        self.twice_angle = raw[:, 2 * count + 1 :]


class Network(nn.Module):
    def __init__(self) -> None:
        super().__init__()
        self.trunk = Trunk()
        self.head = Head()
