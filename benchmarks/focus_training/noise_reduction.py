"""Ways in which cameras take noise away, and detail with it. Each takes luma and how far noise reaches, both
(pictures, 1, rows, columns)."""

from __future__ import annotations

import math
from collections.abc import Callable

import torch
from torch import Tensor
from torch.nn import functional as nnf

from benchmarks.focus_training.coding import cosines, from_blocks, in_blocks


def smoothed(plane: Tensor, sigma_px: float) -> Tensor:
    """Convolved with a Gaussian."""
    reach = min(math.ceil(3 * sigma_px), plane.shape[-1] - 1, plane.shape[-2] - 1)
    steps = torch.arange(-reach, reach + 1, device=plane.device, dtype=plane.dtype)
    weights = torch.exp(-(steps**2) / (2 * sigma_px**2))
    weights = weights / weights.sum()
    padded = nnf.pad(plane, (reach, reach, reach, reach), mode="reflect")
    return nnf.conv2d(nnf.conv2d(padded, weights.view(1, 1, -1, 1)), weights.view(1, 1, 1, -1))


def _bilateral(luma: Tensor, reach: Tensor) -> Tensor:
    total, weights = luma.clone(), torch.ones_like(luma)
    padded = nnf.pad(luma, (2, 2, 2, 2), mode="reflect")
    rows, columns = luma.shape[2:]
    scale = 1 / (2 * (1.5 * reach) ** 2)
    for down in range(5):
        for across in range(5):
            if (down, across) == (2, 2):
                continue
            other = padded[:, :, down : down + rows, across : across + columns]
            weight = torch.exp(-((other - luma) ** 2) * scale - ((down - 2) ** 2 + (across - 2) ** 2) / 4.5)
            total, weights = total + weight * other, weights + weight
    return total / weights


def _local(luma: Tensor, reach: Tensor) -> Tensor:
    """Towards the local mean where the local variance is no more than noise."""
    mean = nnf.avg_pool2d(luma, 5, 1, 2, count_include_pad=False)
    variance = (nnf.avg_pool2d(luma**2, 5, 1, 2, count_include_pad=False) - mean**2).clamp(min=0)
    return mean + (luma - mean) * ((variance - reach**2).clamp(min=0) / variance.clamp(min=1e-9))


def _guided(luma: Tensor, reach: Tensor) -> Tensor:
    """He, Sun and Tang, Guided image filtering, 2013, equations 5 and 6, guided by itself (R)."""
    mean = nnf.avg_pool2d(luma, 5, 1, 2, count_include_pad=False)
    variance = (nnf.avg_pool2d(luma**2, 5, 1, 2, count_include_pad=False) - mean**2).clamp(min=0)
    share = variance / (variance + reach**2 + 1e-9)
    share_mean = nnf.avg_pool2d(share, 5, 1, 2, count_include_pad=False)
    rest = nnf.avg_pool2d((1 - share) * mean, 5, 1, 2, count_include_pad=False)
    return share_mean * luma + rest


def _coring(luma: Tensor, reach: Tensor) -> Tensor:
    """Two bands of detail, each without what is smaller than noise."""
    first, second = smoothed(luma, 0.8), smoothed(luma, 2.0)
    out = second
    for band, share in ((luma - first, 0.9), (first - second, 0.45)):
        out = out + band.sign() * (band.abs() - share * reach).clamp(min=0)
    return out


def _median(luma: Tensor, reach: Tensor) -> Tensor:
    padded = nnf.pad(luma, (1, 1, 1, 1), mode="reflect")
    rows, columns = luma.shape[2:]
    around = [padded[:, :, i : i + rows, j : j + columns] for i in range(3) for j in range(3)]
    middle = torch.stack(around).median(0).values
    share = (reach / 0.04).clamp(max=0.9)
    return luma + share * (middle - luma)


def _diffused(luma: Tensor, reach: Tensor) -> Tensor:
    """Flows from px to px wherever they differ by no more than noise.

    Perona and Malik, Scale-space and edge detection using anisotropic diffusion, 1990, equation 8 (R).
    """
    out = luma
    for _step in range(6):
        flow = torch.zeros_like(out)
        for axis in (2, 3):
            for by_px in (1, -1):
                step = out.roll(by_px, axis) - out
                flow = flow + step * torch.exp(-((step / (1.8 * reach)) ** 2))
        out = out + 0.2 * flow
    return out


def _blocks(luma: Tensor, reach: Tensor) -> Tensor:
    """Coefficients of blocks of 8 px that are no more than noise become nothing; two lays of blocks."""
    rows, columns = luma.shape[2:]
    basis = cosines(luma)
    out = torch.zeros_like(luma)
    for off in (0, 4):
        right, below = -(columns + off) % 8, -(rows + off) % 8
        padded = nnf.pad(luma, (off, right, off, below), mode="reflect")
        limit = nnf.pad(reach, (off, right, off, below), mode="reflect")
        limit = nnf.avg_pool2d(limit, 8)[:, 0, :, :, None, None] * 1.6
        found = basis @ in_blocks(padded) @ basis.T
        strong = (found.abs() > limit).float()
        strong[..., 0, 0] = 1
        whole = from_blocks(basis.T @ (found * strong) @ basis)
        out = out + whole[:, :, off : off + rows, off : off + columns] / 2
    return out


def _wavelet(luma: Tensor, reach: Tensor) -> Tensor:
    """Differences of three smoothings, shrunk by their local strength; the family kept for scoring."""
    out, finer = torch.zeros_like(luma), luma
    for step, share in ((1, 0.8), (2, 0.35), (4, 0.18)):
        padded = nnf.pad(finer, (2 * step,) * 4, mode="reflect")
        weights = torch.tensor((1, 4, 6, 4, 1), device=luma.device, dtype=luma.dtype) / 16
        coarser = nnf.conv2d(padded, weights.view(1, 1, 5, 1), dilation=step)
        coarser = nnf.conv2d(coarser, weights.view(1, 1, 1, 5), dilation=step)
        band = finer - coarser
        power = nnf.avg_pool2d(band**2, 7, 1, 3, count_include_pad=False)
        floor = (share * reach) ** 2
        out, finer = out + band * ((power - floor).clamp(min=0) / power.clamp(min=1e-9)), coarser
    return out + finer


REDUCED: dict[str, Callable[[Tensor, Tensor], Tensor]] = {
    "bilateral": _bilateral, "local": _local, "coring": _coring, "median": _median, "guided": _guided,
    "diffused": _diffused, "blocks": _blocks, "wavelet": _wavelet,
}  # fmt: skip
