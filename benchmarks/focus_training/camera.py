"""Cameras drawn by chance: from light to the grey picture of a JPEG.

Colour mosaic and noise, demosaicking, tone curve, then noise reduction and sharpening on the luma, perhaps
scaled down or up, and JPEG. One camera at one ISO for each group of frames.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional as nnf

DEMOSAICS = ("bilinear", "gradient", "directed", "none")
DENOISERS = ("none", "bilateral", "local", "coring", "median", "guided")
UNSEEN_DENOISER = "wavelet"
LUMA = (0.299, 0.587, 0.114)
"""ITU-R BT.601, as JPEG has it."""


@dataclass(frozen=True)
class Camera:
    """How a picture is made of light."""

    iso: float
    electrons: float
    """Full well at ISO 100."""
    read_noise_e: float
    gains: tuple[float, float, float]
    demosaic: str
    correction: float
    """How much of the second difference corrects the interpolated colour."""
    gamma: float
    contrast: float
    denoise: str
    denoise_strength: float
    sharpen_px: float
    sharpen_amount: float
    sharpen_from: float
    """Smaller differences than this (of 1) are not sharpened."""
    overshoot: float
    """Sharpening goes beyond the neighbours by this much at most."""
    clarity: float
    clarity_px: float
    scale: float
    """Finished size over sensor size."""
    quality: float

    @property
    def full_well(self) -> float:
        return self.electrons * 100 / self.iso


def draw(chance: torch.Generator, *, unseen: bool = False) -> Camera:
    """A camera by chance. The unseen family is for scoring alone."""

    def one(low: float = 0.0, high: float = 1.0) -> float:
        return low + (high - low) * float(torch.rand((), generator=chance))

    def pick(*names: str) -> str:
        return names[int(torch.randint(len(names), (), generator=chance))]

    scale = 1.0
    if one() < 0.18:
        scale = one(0.55, 0.92)
    elif one() < 0.08:
        scale = one(1.08, 1.6)
    strength = one()
    if not unseen and one() < 0.05:
        return _plain(one(0, 1), one(0, 0.4), one(0.5, 1.2))
    return Camera(
        iso=64 * 2 ** one(0, 8.65),
        electrons=math.exp(one(math.log(10_000), math.log(80_000))),
        read_noise_e=one(1, 5),
        gains=(one(0.4, 0.75), 1.0, one(0.45, 0.9)),
        demosaic="directed" if unseen else pick(*DEMOSAICS),
        correction=one(0.4, 1.2),
        gamma=one(1.8, 2.6),
        contrast=one(-0.1, 0.6),
        denoise=UNSEEN_DENOISER if unseen else pick(*DENOISERS),
        denoise_strength=one(0.3, 2.5),
        sharpen_px=one(0.45, 1.7) if strength > 0.15 else 1.0,
        sharpen_amount=0.0 if strength < 0.15 else one(0.1, 1.4) if strength < 0.92 else one(1.4, 2.4),
        sharpen_from=one(0.002, 0.02) if one() < 0.4 else 0.0,
        overshoot=one(0.0, 0.05) if one() < 0.3 else 1.0,
        clarity=one(0.1, 0.6) if one() < 0.18 else 0.0,
        clarity_px=one(4, 20),
        scale=scale,
        quality=one(72, 99),
    )


def _plain(stops: float, sharpen_amount: float, sharpen_px: float) -> Camera:
    """Hardly any noise, all colours in every pixel: as drawn pictures and test charts are."""
    return Camera(
        iso=100 * 2**stops, electrons=2e6, read_noise_e=1.0, gains=(1.0, 1.0, 1.0), demosaic="none",
        correction=0.0, gamma=2.2, contrast=0.0, denoise="none", denoise_strength=0.0, sharpen_px=sharpen_px,
        sharpen_amount=sharpen_amount, sharpen_from=0.0, overshoot=1.0, clarity=0.0, clarity_px=4.0,
        scale=1.0, quality=98,
    )  # fmt: skip


def developed(light: Tensor, by: Camera, generator: torch.Generator | None) -> Tensor:
    """The grey picture, encoded, before JPEG.

    Parameters
    ----------
    light
        (pictures, 3, rows, columns), linear, 1 is white.
    generator
        None for a picture without noise.
    """
    rgb = _demosaicked(light, by, generator)
    encoded = tone(rgb.clamp(0, 1), by)
    weights = torch.tensor(LUMA, device=light.device).view(1, 3, 1, 1)
    luma = (encoded * weights).sum(1, keepdim=True)
    luma = _denoised(luma, by)
    if by.clarity:
        luma = luma + by.clarity * (luma - smoothed(luma, by.clarity_px))
    luma = _sharpened(luma, by)
    if by.scale != 1:
        size = (round(luma.shape[2] * by.scale), round(luma.shape[3] * by.scale))
        luma = nnf.interpolate(luma, size=size, mode="bicubic", antialias=True, align_corners=False)
    return luma.clamp(0, 1)


def tone(linear: Tensor, by: Camera) -> Tensor:
    """The tone curve."""
    encoded = linear.clamp(min=1e-6) ** (1 / by.gamma)
    return (1 - by.contrast) * encoded + by.contrast * encoded**2 * (3 - 2 * encoded)


def _demosaicked(light: Tensor, by: Camera, generator: torch.Generator | None) -> Tensor:
    gains = torch.tensor(by.gains, device=light.device).view(1, 3, 1, 1)
    mask = _mosaic(light)
    whole = by.demosaic == "none"
    raw = light * gains if whole else (light * gains * mask).sum(1, keepdim=True)
    if generator is not None:
        # Where every pixel records all colours, it was scaled down: four times the light.
        well = by.full_well * (4 if whole else 1)
        noise = torch.randn(raw.shape, generator=generator, device=raw.device)
        raw = raw + noise * (raw.clamp(min=0) / well + (by.read_noise_e / well) ** 2).sqrt()
    raw = raw.clamp(max=1.0)
    if whole:
        return raw / gains
    if by.demosaic == "directed":
        return _directed(raw, mask) / gains
    return _interpolated(raw, mask, by.correction if by.demosaic == "gradient" else 0.0) / gains


def _mosaic(light: Tensor) -> Tensor:
    mask = torch.zeros((1, 3, *light.shape[2:]), device=light.device)
    mask[:, 0, 0::2, 0::2] = 1
    mask[:, 1, 0::2, 1::2] = 1
    mask[:, 1, 1::2, 0::2] = 1
    mask[:, 2, 1::2, 1::2] = 1
    return mask


_CROSS = ((0, 1, 0), (1, 4, 1), (0, 1, 0))
_SQUARE = ((1, 2, 1), (2, 4, 2), (1, 2, 1))


def _filtered(plane: Tensor, weights: tuple[tuple[float, ...], ...], divisor: float) -> Tensor:
    kernel = torch.tensor(weights, device=plane.device, dtype=plane.dtype)[None, None] / divisor
    reach = kernel.shape[-1] // 2
    padded = nnf.pad(plane, (reach, reach, reach, reach), mode="reflect")
    return nnf.conv2d(padded, kernel)


def _interpolated(raw: Tensor, mask: Tensor, correction: float) -> Tensor:
    """Bilinear, corrected by the second difference of the colour that is there.

    Malvar, He and Cutler, High-quality linear interpolation for demosaicing of Bayer-patterned color images,
    ICASSP 2004 (R), with the strength of the correction drawn by chance.
    """
    green = _filtered(raw * mask[:, 1:2], _CROSS, 4)
    if correction:
        second = _filtered(
            raw, ((0, 0, -1, 0, 0), (0, 0, 0, 0, 0), (-1, 0, 4, 0, -1), (0, 0, 0, 0, 0), (0, 0, -1, 0, 0)), 8
        )
        green = torch.where(mask[:, 1:2] > 0, raw, green + correction * second)
        others = [green + _filtered((raw - green) * mask[:, c : c + 1], _SQUARE, 4) for c in (0, 2)]
        return torch.cat([others[0], green, others[1]], 1)
    others = [_filtered(raw * mask[:, c : c + 1], _SQUARE, 4) for c in (0, 2)]
    return torch.cat([others[0], green, others[1]], 1)


def _directed(raw: Tensor, mask: Tensor) -> Tensor:
    """Green along the smaller difference."""
    left, right = raw.roll(1, 3), raw.roll(-1, 3)
    up, down = raw.roll(1, 2), raw.roll(-1, 2)
    bend_across = 2 * raw - raw.roll(2, 3) - raw.roll(-2, 3)
    bend_down = 2 * raw - raw.roll(2, 2) - raw.roll(-2, 2)
    across = (left + right) / 2 + bend_across / 4
    along = (up + down) / 2 + bend_down / 4
    better = (left - right).abs() + bend_across.abs() < (up - down).abs() + bend_down.abs()
    green = torch.where(mask[:, 1:2] > 0, raw, torch.where(better, across, along))
    others = [green + _filtered((raw - green) * mask[:, c : c + 1], _SQUARE, 4) for c in (0, 2)]
    return torch.cat([others[0], green, others[1]], 1)


def smoothed(plane: Tensor, sigma_px: float) -> Tensor:
    """Convolved with a Gaussian."""
    reach = min(math.ceil(3 * sigma_px), plane.shape[-1] - 1, plane.shape[-2] - 1)
    steps = torch.arange(-reach, reach + 1, device=plane.device, dtype=plane.dtype)
    weights = torch.exp(-(steps**2) / (2 * sigma_px**2))
    weights = weights / weights.sum()
    padded = nnf.pad(plane, (reach, reach, reach, reach), mode="reflect")
    return nnf.conv2d(nnf.conv2d(padded, weights.view(1, 1, -1, 1)), weights.view(1, 1, 1, -1))


def _noise_sigma(luma: Tensor, by: Camera) -> Tensor:
    """Of the encoded luma, from its brightness."""
    linear = luma.clamp(0.01, 1) ** by.gamma
    in_light = (linear / by.full_well + (by.read_noise_e / by.full_well) ** 2).sqrt()
    return in_light / (by.gamma * linear ** (1 - 1 / by.gamma)) * 0.75


def _denoised(luma: Tensor, by: Camera) -> Tensor:
    if by.denoise == "none":
        return luma
    return _REDUCED[by.denoise](luma, by.denoise_strength * _noise_sigma(smoothed(luma, 2.0), by))


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


_REDUCED = {
    "bilateral": _bilateral, "local": _local, "coring": _coring, "median": _median, "guided": _guided,
    "wavelet": _wavelet,
}  # fmt: skip


def _sharpened(luma: Tensor, by: Camera) -> Tensor:
    if not by.sharpen_amount:
        return luma
    detail = luma - smoothed(luma, by.sharpen_px)
    if by.sharpen_from:
        detail = detail.sign() * (detail.abs() - by.sharpen_from).clamp(min=0)
    out = luma + by.sharpen_amount * detail
    if by.overshoot < 1:
        highest = nnf.max_pool2d(luma, 3, 1, 1) + by.overshoot
        lowest = -nnf.max_pool2d(-luma, 3, 1, 1) - by.overshoot
        out = torch.minimum(torch.maximum(out, lowest), highest)
    return out


_QUANTISATION = (
    (16, 11, 10, 16, 24, 40, 51, 61), (12, 12, 14, 19, 26, 58, 60, 55), (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62), (18, 22, 37, 56, 68, 109, 103, 77), (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101), (72, 92, 95, 98, 112, 100, 103, 99),
)  # fmt: skip
"""ITU-T T.81, table K.1: luminance."""


def as_jpeg(luma: Tensor, quality: float) -> Tensor:
    """What is left of grey pictures, 0 to 1, sides in multiples of 8, after JPEG; in steps of 1/255."""
    count, _one, rows, columns = luma.shape
    factor = 5000 / quality if quality < 50 else 200 - 2 * quality
    table = torch.tensor(_QUANTISATION, device=luma.device, dtype=luma.dtype)
    table = ((table * factor + 50) / 100).floor().clamp(1, 255)
    number = torch.arange(8, device=luma.device, dtype=luma.dtype)
    basis = torch.cos((2 * number[None] + 1) * number[:, None] * math.pi / 16) / 2
    basis[0] /= math.sqrt(2)
    blocks = (luma * 255).round() - 128
    blocks = blocks.reshape(count, rows // 8, 8, columns // 8, 8).permute(0, 1, 3, 2, 4)
    coefficients = basis @ blocks @ basis.T
    kept = (coefficients / table).round() * table
    out = (basis.T @ kept @ basis).permute(0, 1, 3, 2, 4).reshape(count, 1, rows, columns)
    return ((out + 128).round() / 255).clamp(0, 1)
