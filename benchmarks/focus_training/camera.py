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

from benchmarks.focus_training.noise_reduction import REDUCED, smoothed

DEMOSAICS = ("bilinear", "gradient", "directed", "weighted", "none")
DENOISERS = ("none", "none", "bilateral", "local", "coring", "median", "guided", "diffused", "blocks")
UNSEEN_DENOISER = "wavelet"
TONES = ("curve", "shoulder", "plain")
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
    tone: str
    low_pass_px: float
    """Half the distance of the four points that a low-pass filter before the sensor makes of one."""
    denoise: str
    denoise_strength: float
    grain: float
    """How much of what noise reduction took is put back."""
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
    scaling: str
    sharpen_last: bool
    """After scaling, not before."""
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
    if one() < 0.16:
        scale = one(0.55, 0.92)
    elif one() < 0.12:
        scale = one(1.08, 1.9)
    strength = one()
    if not unseen and one() < 0.05:
        return _plain(one(0, 1), one(0, 0.4), one(0.5, 1.2))
    iso = 64 * 2 ** one(0, 8.65)
    # Cameras smear the more the more noise there is, and some smear all there is.
    heavy = 1.6 if iso > 3000 and one() < 0.35 else 1.0
    return Camera(
        iso=iso,
        electrons=math.exp(one(math.log(10_000), math.log(80_000))),
        read_noise_e=one(1, 5),
        gains=(one(0.4, 0.75), 1.0, one(0.45, 0.9)),
        demosaic="directed" if unseen else pick(*DEMOSAICS),
        correction=one(0.4, 1.2),
        gamma=one(1.8, 2.6),
        contrast=one(-0.1, 0.6),
        denoise=UNSEEN_DENOISER if unseen else pick(*DENOISERS),
        tone=pick(*TONES) if one() < 0.5 else "curve",
        low_pass_px=one(0.18, 0.42) if one() < 0.3 else 0.0,
        denoise_strength=heavy * one(0.3, 2.5),
        grain=one(0.05, 0.6) if one() < 0.5 else 0.0,
        sharpen_px=one(0.4, 2.2) if strength > 0.15 else 1.0,
        sharpen_amount=0.0 if strength < 0.15 else one(0.1, 1.4) if strength < 0.92 else one(1.4, 2.4),
        sharpen_from=one(0.002, 0.02) if one() < 0.4 else 0.0,
        overshoot=one(0.0, 0.05) if one() < 0.3 else 1.0,
        clarity=one(0.1, 0.6) if one() < 0.18 else 0.0,
        clarity_px=one(4, 20),
        scale=scale,
        scaling=pick("bicubic", "bilinear"),
        sharpen_last=one() < 0.4,
        quality=one(66, 99),
    )


def _plain(stops: float, sharpen_amount: float, sharpen_px: float) -> Camera:
    """Hardly any noise, all colours in every pixel: as drawn pictures and test charts are."""
    return Camera(
        iso=100 * 2**stops, electrons=2e6, read_noise_e=1.0, gains=(1.0, 1.0, 1.0), demosaic="none",
        correction=0.0, gamma=2.2, contrast=0.0, tone="curve", low_pass_px=0.0, denoise="none",
        denoise_strength=0.0, grain=0.0, sharpen_px=sharpen_px, sharpen_amount=sharpen_amount,
        sharpen_from=0.0, overshoot=1.0, clarity=0.0, clarity_px=4.0, scale=1.0, scaling="bicubic",
        sharpen_last=False, quality=98,
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
    rgb = _demosaicked(_low_passed(light, by), by, generator)
    encoded = tone(rgb.clamp(0, 1), by)
    weights = torch.tensor(LUMA, device=light.device).view(1, 3, 1, 1)
    luma = (encoded * weights).sum(1, keepdim=True)
    luma = _denoised(luma, by)
    if by.clarity:
        luma = luma + by.clarity * (luma - smoothed(luma, by.clarity_px))
    if not by.sharpen_last:
        luma = _sharpened(luma, by)
    if by.scale != 1:
        size = (round(luma.shape[2] * by.scale), round(luma.shape[3] * by.scale))
        luma = nnf.interpolate(luma, size=size, mode=by.scaling, antialias=True, align_corners=False)
    if by.sharpen_last:
        luma = _sharpened(luma, by)
    return luma.clamp(0, 1)


def tone(linear: Tensor, by: Camera) -> Tensor:
    """The tone curve."""
    if by.tone == "shoulder":
        # Reinhard et al., Photographic tone reproduction for digital images, 2002, equation 4 (R).
        linear = 1.55 * linear * (1 + linear / 2.25) / (1 + linear) / 1.12
    encoded = linear.clamp(min=1e-6) ** (1 / by.gamma)
    contrast = 0.0 if by.tone == "plain" else by.contrast
    return (1 - contrast) * encoded + contrast * encoded**2 * (3 - 2 * encoded)


def _low_passed(light: Tensor, by: Camera) -> Tensor:
    """Each point of light as four, at the corners of a square."""
    if not by.low_pass_px:
        return light
    rows, columns = light.shape[2:]
    turn = 2 * math.pi * by.low_pass_px
    down = torch.cos(turn * torch.fft.fftfreq(rows, device=light.device))[:, None]
    across = torch.cos(turn * torch.fft.rfftfreq(columns, device=light.device))
    return torch.fft.irfft2(torch.fft.rfft2(light) * (down * across), s=(rows, columns)).clamp(min=0)


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
    if by.demosaic in ("directed", "weighted"):
        return _directed(raw, mask, softly=by.demosaic == "weighted") / gains
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


def _directed(raw: Tensor, mask: Tensor, *, softly: bool) -> Tensor:
    """Green along the smaller difference; softly: from both ways, weighed by their differences."""
    left, right = raw.roll(1, 3), raw.roll(-1, 3)
    up, down = raw.roll(1, 2), raw.roll(-1, 2)
    bend_across = 2 * raw - raw.roll(2, 3) - raw.roll(-2, 3)
    bend_down = 2 * raw - raw.roll(2, 2) - raw.roll(-2, 2)
    across = (left + right) / 2 + bend_across / 4
    along = (up + down) / 2 + bend_down / 4
    steep_across = (left - right).abs() + bend_across.abs()
    steep_down = (up - down).abs() + bend_down.abs()
    if softly:
        steep_across, steep_down = (nnf.avg_pool2d(x, 3, 1, 1) + 1e-4 for x in (steep_across, steep_down))
        share = steep_down**2 / (steep_across**2 + steep_down**2)
    else:
        share = (steep_across < steep_down).float()
    green = torch.where(mask[:, 1:2] > 0, raw, share * across + (1 - share) * along)
    others = [green + _filtered((raw - green) * mask[:, c : c + 1], _SQUARE, 4) for c in (0, 2)]
    return torch.cat([others[0], green, others[1]], 1)


def _noise_sigma(luma: Tensor, by: Camera) -> Tensor:
    """Of the encoded luma, from its brightness."""
    linear = luma.clamp(0.01, 1) ** by.gamma
    in_light = (linear / by.full_well + (by.read_noise_e / by.full_well) ** 2).sqrt()
    return in_light / (by.gamma * linear ** (1 - 1 / by.gamma)) * 0.75


def _denoised(luma: Tensor, by: Camera) -> Tensor:
    if by.denoise == "none":
        return luma
    reduced = REDUCED[by.denoise](luma, by.denoise_strength * _noise_sigma(smoothed(luma, 2.0), by))
    return torch.lerp(reduced, luma, by.grain)


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
