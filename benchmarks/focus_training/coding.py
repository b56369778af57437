"""JPEG of grey pictures, on the accelerator: blocks of 8 px and their cosine transform."""

from __future__ import annotations

import math

import torch
from torch import Tensor

_QUANTISATION = (
    (16, 11, 10, 16, 24, 40, 51, 61), (12, 12, 14, 19, 26, 58, 60, 55), (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62), (18, 22, 37, 56, 68, 109, 103, 77), (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101), (72, 92, 95, 98, 112, 100, 103, 99),
)  # fmt: skip
"""ITU-T T.81, table K.1: luminance."""


def as_jpeg(luma: Tensor, quality: float) -> Tensor:
    """What is left of grey pictures, 0 to 1, sides in multiples of 8, after JPEG; in steps of 1/255."""
    factor = 5000 / quality if quality < 50 else 200 - 2 * quality
    table = torch.tensor(_QUANTISATION, device=luma.device, dtype=luma.dtype)
    table = ((table * factor + 50) / 100).floor().clamp(1, 255)
    basis = cosines(luma)
    coefficients = basis @ in_blocks((luma * 255).round() - 128) @ basis.T
    kept = (coefficients / table).round() * table
    out = from_blocks(basis.T @ kept @ basis)
    return ((out + 128).round() / 255).clamp(0, 1)


def cosines(like: Tensor) -> Tensor:
    """The orthonormal cosine transform of 8 (ITU-T T.81, A.3.3)."""
    number = torch.arange(8, device=like.device, dtype=like.dtype)
    basis = torch.cos((2 * number[None] + 1) * number[:, None] * math.pi / 16) / 2
    basis[0] /= math.sqrt(2)
    return basis


def in_blocks(plane: Tensor) -> Tensor:
    """(pictures, 1, rows, columns) to (pictures, rows / 8, columns / 8, 8, 8)."""
    count, _one, rows, columns = plane.shape
    return plane.reshape(count, rows // 8, 8, columns // 8, 8).permute(0, 1, 3, 2, 4)


def from_blocks(blocks: Tensor) -> Tensor:
    count, down, across = blocks.shape[:3]
    return blocks.permute(0, 1, 3, 2, 4).reshape(count, 1, 8 * down, 8 * across)
