"""System blur of a drawn camera behind drawn optics, as a slanted edge tells it from the finished picture.

The edge's spread function across a slant (the principle of ISO 12233, R), its derivative's transform, and the
frequency at half of it: sigma = 0.187391 / MTF50 is that of the Gaussian with the same (D).
"""

from __future__ import annotations

import dataclasses
import math

import torch
from torch import Tensor

from benchmarks.focus_training import camera
from benchmarks.focus_training.blur import Kernels, sigma_of

SIDE_PX = 64
ROWS = 24
REACH_PX = 14.0
BINS_A_PX = 4
SLANT = 0.11
DARK, BRIGHT = 0.06, 0.24
"""Four to one, as the low-contrast edges of the standard."""
LARGEST_PX = 2.6
"""Defocus that the picture of the edge has room for."""
GAUSSIAN_MTF50 = 0.187391


def whole_sigma_px(kernels: Kernels, by: camera.Camera) -> Tensor:
    """Sigma of the whole in px of the finished picture, one a kernel.

    The edge goes through lens, focus and camera. What motion adds is added as squares are (the MTF50 of a
    trail that dwells at one end would hide the trail), and so is defocus too large for the edge's picture.
    """
    device = kernels.lens_px.device
    still = kernels.still()
    defocus2 = sigma_of(still.moments()) ** 2
    fits = defocus2 < LARGEST_PX**2
    still = dataclasses.replace(
        still,
        disc=torch.where(fits[:, None, None], still.disc, 0.0),
        gaussian_px=torch.where(fits, still.gaussian_px, 0.0),
    )
    steps = torch.arange(SIDE_PX, device=device, dtype=torch.float32) - (SIDE_PX - 1) / 2
    distance = steps[None] * math.cos(SLANT) + steps[:, None] * math.sin(SLANT)
    # Light gathered over the pixel.
    upright = DARK + (BRIGHT - DARK) * (distance + 0.5).clamp(0, 1)
    scene = torch.fft.rfft2(torch.stack([upright, upright.T]))
    light = torch.fft.irfft2(scene[None] * still.transfer(SIDE_PX)[:, None], s=(SIDE_PX, SIDE_PX))
    light = light.reshape(-1, 1, SIDE_PX, SIDE_PX).expand(-1, 3, -1, -1).clamp(min=0)
    luma = camera.developed(light, by, None)[:, 0]
    side = luma.shape[-1]
    pair = luma.reshape(-1, 2, side, side)
    both = torch.cat([pair[:, 0], pair[:, 1].transpose(1, 2)])
    of_edge = _sigma_px(_in_light(both, by), by.scale).reshape(2, -1).square().mean(0)
    of_motion = sigma_of(kernels.path_moments()) ** 2
    return ((of_motion + torch.where(fits, 0.0, defocus2)) * by.scale**2 + of_edge).sqrt()


def _in_light(luma: Tensor, by: camera.Camera) -> Tensor:
    """Light from the finished picture: the tone curve taken back."""
    light = torch.linspace(0, 1, 1024, device=luma.device)
    curve = camera.tone(light, by)
    place = torch.searchsorted(curve, luma.contiguous()).clamp(1, 1023)
    low, high = curve[place - 1], curve[place]
    share = ((luma - low) / (high - low).clamp(min=1e-6)).clamp(-1, 2)
    return light[place - 1] + share * (light[place] - light[place - 1])


def _sigma_px(light: Tensor, scale: float) -> Tensor:
    """From edges that run down, shape (edges, side, side)."""
    device, side = light.device, light.shape[-1]
    rows = min(ROWS, side // 3)
    reach = min(REACH_PX * scale, side / 3.2)
    first = side // 2 - rows // 2
    steps = torch.arange(side, device=device, dtype=torch.float32) - (side - 1) / 2
    distance = steps[None] * math.cos(SLANT) + steps[first : first + rows, None] * math.sin(SLANT)
    number = ((distance + reach) * BINS_A_PX).floor().long().ravel()
    bins = int(2 * reach * BINS_A_PX)
    inside = (number >= 0) & (number < bins)
    values = light[:, first : first + rows].reshape(len(light), -1)[:, inside]
    total = torch.zeros(len(light), bins, device=device).index_add_(1, number[inside], values)
    count = torch.zeros(bins, device=device).index_add_(0, number[inside], torch.ones_like(values[0]))
    profile = total / count.clamp(min=1)
    spread = profile[:, 1:] - profile[:, :-1]
    place = torch.arange(bins - 1, device=device) / BINS_A_PX
    frequency = torch.linspace(0.004, 1.2, 300, device=device)
    turn = 2 * math.pi * place[:, None] * frequency
    size = ((spread @ turn.cos()) ** 2 + (spread @ turn.sin()) ** 2).sqrt()
    narrow = torch.sinc(frequency / BINS_A_PX)
    ratio = size / (profile[:, -8:].mean(1) - profile[:, :8].mean(1)).abs().clamp(min=1e-4)[:, None]
    below = ratio / narrow**2 < 0.5
    at = torch.where(below.any(1), below.float().argmax(1), torch.full_like(below[:, 0].long(), 299))
    before = (at - 1).clamp(min=0)
    rows_at = torch.arange(len(light), device=device)
    corrected = ratio / narrow**2
    high, low = corrected[rows_at, before], corrected[rows_at, at]
    share = ((high - 0.5) / (high - low).clamp(min=1e-6)).clamp(0, 1)
    half = frequency[before] + share * (frequency[at] - frequency[before])
    return GAUSSIAN_MTF50 / half
