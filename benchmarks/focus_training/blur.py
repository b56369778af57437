"""Blur drawn by chance: what the lens, defocus and the hand do to a point, as points with weights.

A kernel is a set of points for defocus, one for the path of motion, and a Gaussian, all convolved. Its
transfer function is summed from the points, so that no grid limits how fine it is; its true blur is the
second moment of these points.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import torch
from torch import Tensor

DISC_POINTS, PATH_POINTS = 900, 192
STILL, GAUSSIAN, DISC, PATH, MIXED, ABERRATED = range(6)
KIND_NAMES = ("none", "gaussian", "disc", "motion", "mixed", "coma and the like")
KIND_SHARES = (0.0, 0.15, 0.27, 0.22, 0.24, 0.12)


class Draws:
    """Even random numbers of a shape."""

    def __init__(self, generator: torch.Generator, device: torch.device) -> None:
        self.generator, self.device = generator, device

    def __call__(self, *shape: int, low: float = 0.0, high: float = 1.0) -> Tensor:
        return low + (high - low) * torch.rand(*shape, generator=self.generator, device=self.device)


@dataclass(frozen=True)
class Kernels:
    """So many kernels; px, rows downwards."""

    disc: Tensor
    """(kernels, DISC_POINTS, 2): across, down."""
    disc_weight: Tensor
    path: Tensor
    path_weight: Tensor
    gaussian_px: Tensor
    lens_px: Tensor
    """Gaussian of the lens, left out of the label."""
    kind: Tensor

    def still(self) -> Kernels:
        """The same without the path of motion."""
        return dataclasses.replace(self, path=torch.zeros_like(self.path))

    def path_moments(self) -> Tensor:
        """Second moments of motion alone, as `moments`."""
        return _moments(self.path, self.path_weight)

    def moments(self) -> Tensor:
        """Second moments without the lens: (kernels, 3) across-across, down-down, across-down."""
        return (
            _moments(self.disc, self.disc_weight)
            + _moments(self.path, self.path_weight)
            + torch.stack(
                [self.gaussian_px**2, self.gaussian_px**2, torch.zeros_like(self.gaussian_px)], dim=1
            )
        )

    def transfer(self, side: int, *, lens: bool = True) -> Tensor:
        """Transfer functions over the frequencies of a real FFT: (kernels, side, side // 2 + 1), complex."""
        device = self.disc.device
        down = torch.fft.fftfreq(side, device=device)
        across = torch.fft.rfftfreq(side, device=device)
        out = _transfer(self.disc, self.disc_weight, down, across)
        out = out * _transfer(self.path, self.path_weight, down, across)
        variance = self.gaussian_px**2 + (self.lens_px**2 if lens else 0)
        radius2 = down[:, None] ** 2 + across[None] ** 2
        return out * torch.exp(-2 * math.pi**2 * variance[:, None, None] * radius2)

    def take(self, which: Tensor) -> Kernels:
        return Kernels(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def sigma_of(moments: Tensor) -> Tensor:
    """Blur as sigma, the variance averaged over both axes; px."""
    return ((moments[:, 0] + moments[:, 1]) / 2).clamp(min=0).sqrt()


def anisotropy_of(moments: Tensor) -> Tensor:
    """0 for blur alike in all directions, 1 for a line."""
    across, down, both = moments.unbind(1)
    return ((across - down) ** 2 + 4 * both**2).sqrt() / (across + down).clamp(min=1e-6)


def direction_of(moments: Tensor) -> Tensor:
    """Direction of most blur, radians: 0 along a row, counterclockwise."""
    across, down, both = moments.unbind(1)
    return 0.5 * torch.atan2(-2 * both, across - down)


def draw(sigma_px: Tensor, generator: torch.Generator) -> Kernels:
    """Kernels of these blurs, of all kinds."""
    count, device = len(sigma_px), sigma_px.device

    draws = Draws(generator, device)
    shares = torch.tensor(KIND_SHARES, device=device)
    kind = torch.multinomial(shares, count, replacement=True, generator=generator)
    kind = torch.where(sigma_px < 0.12, torch.full_like(kind, GAUSSIAN), kind)
    disc, disc_weight = _discs(count, device, draws)
    aberrated = (kind == ABERRATED)[:, None]
    other, other_weight = _aberrations(count, device, draws)
    disc = torch.where(aberrated[..., None], other, disc)
    disc_weight = torch.where(aberrated, other_weight, disc_weight)
    path, path_weight = _paths(count, device, draws, generator)
    share = torch.where(kind == MIXED, draws(count, low=0.25, high=0.85), (kind == PATH).float())
    of_disc = torch.where((kind == DISC) | (kind == ABERRATED), torch.ones_like(share), 0.0)
    # What is out of focus besides being moved is a disc, or smooth.
    of_disc = torch.where((kind == MIXED) & (draws(count) < 0.75), 1 - share, of_disc)
    # A path is never without any width, and a Gaussian stands for whatever is left.
    of_path = share * torch.where(kind == PATH, 0.985, 1.0)
    variance = sigma_px**2
    disc = disc * _factor(disc, disc_weight, variance * of_disc)
    path = path * _factor(path, path_weight, variance * of_path)
    rest = (variance * (1 - of_disc - of_path)).clamp(min=0).sqrt()
    return Kernels(disc, disc_weight, path, path_weight, rest, draws(count) * 0.55, kind)


def _discs(count: int, device: torch.device, draws: Draws) -> tuple[Tensor, Tensor]:
    """Discs: plain, with a bright or dim rim, cut at one or two sides, with blades, with a hole."""
    number = torch.arange(DISC_POINTS, device=device).float()
    radius = ((number + 0.5) / DISC_POINTS).sqrt()[None].expand(count, -1)
    angle = (number * (math.pi * (3 - math.sqrt(5))))[None] + draws(count, 1, high=6.28)
    points = torch.stack([radius * angle.cos(), radius * angle.sin()], dim=2)
    weight = torch.ones_like(radius)
    rim = draws(count, 1, low=-0.8, high=1.6) * (draws(count, 1) < 0.45)
    weight = weight * (1 + rim * (2 * radius**4 - 0.66)).clamp(min=0.02)
    for share in (0.3, 0.12):
        turn = draws(count, 1, high=6.28)
        side = points[..., 0] * turn.cos() + points[..., 1] * turn.sin()
        cut = draws(count, 1, low=0.25, high=0.9)
        off = (draws(count, 1) < share) & (side > cut)
        weight = weight.masked_fill(off, 0.0)
    blades = torch.floor(draws(count, 1, low=5, high=10))
    part = 2 * math.pi / blades
    flat = math.pi / blades
    beyond = radius * torch.cos(torch.remainder(angle, part) - flat) > torch.cos(flat)
    weight = weight.masked_fill(beyond & (draws(count, 1) < 0.3), 0.0)
    hole = draws(count, 1, low=0.2, high=0.5)
    weight = weight.masked_fill((draws(count, 1) < 0.06) & (radius < hole), 0.0)
    squeeze = 1 - 0.4 * draws(count, 1) * (draws(count, 1) < 0.35)
    points = points * torch.stack([torch.ones_like(squeeze), squeeze], dim=2)
    return _centred(_turned(points, draws(count, high=6.28)), weight)


def _aberrations(count: int, device: torch.device, draws: Draws) -> tuple[Tensor, Tensor]:
    """Points off the axis: coma, with astigmatism, curvature of field or defocus to it.

    Where rays meet the sensor by the third-order aberrations: Welford, Aberrations of Optical Systems, 1986,
    chapter 7 (R): coma rho^2 (2 + cos 2 phi, sin 2 phi), defocus and astigmatism in proportion to rho.
    """
    number = torch.arange(DISC_POINTS, device=device).float()
    rho = ((number + 0.5) / DISC_POINTS).sqrt()[None].expand(count, -1)
    phi = (number * (math.pi * (3 - math.sqrt(5))))[None] + draws(count, 1, high=6.28)
    coma = draws(count, 1, low=0.3, high=1.0) * (draws(count, 1) < 0.85)
    defocus = draws(count, 1, low=-1.0, high=1.0) * (draws(count, 1) < 0.6) + 0.05
    astigmatic = draws(count, 1, low=0.0, high=0.9) * (draws(count, 1) < 0.5)
    along = coma * rho**2 * (2 + torch.cos(2 * phi)) + defocus * (1 + astigmatic) * rho * phi.cos()
    across = coma * rho**2 * torch.sin(2 * phi) + defocus * (1 - astigmatic) * rho * phi.sin()
    # Less of the rim gets through near the corners.
    weight = 1 - draws(count, 1, high=0.7) * rho**2
    return _centred(_turned(torch.stack([along, across], dim=2), draws(count, high=6.28)), weight)


def _paths(
    count: int, device: torch.device, draws: Draws, generator: torch.Generator
) -> tuple[Tensor, Tensor]:
    """Ways of the hand or the animal: straight, bent, shaken, to and fro; even, or dwelling somewhere."""
    time = torch.linspace(-1, 1, PATH_POINTS, device=device)[None]
    bend = draws(count, 1, low=-0.7, high=0.7) * (draws(count, 1) < 0.35)
    hook = draws(count, 1, low=-0.6, high=0.6) * (draws(count, 1) < 0.2)
    across = time.expand(count, -1)
    swing = draws(count, 1) < 0.12
    to_and_fro = torch.sin(time * draws(count, 1, low=2, high=7) + draws(count, 1, high=6))
    across = torch.where(swing, to_and_fro, across)
    down = bend * across**2 + hook * across**3
    steps = torch.randn(count, 2, PATH_POINTS, generator=generator, device=device).cumsum(2)
    wander = torch.nn.functional.avg_pool1d(steps, 31, 1, 15, count_include_pad=False)
    wander = (wander - wander.mean(2, keepdim=True)) / wander.std(2, keepdim=True).clamp(min=1e-6)
    shaken = draws(count, 1, high=0.35) * (draws(count, 1) < 0.3)
    across, down = across + shaken * wander[:, 0], down + shaken * wander[:, 1]
    # A hand that rests at one end, or passes faster and slower: trails with a sharp point at the end.
    weight = torch.ones(count, PATH_POINTS, device=device)
    where_ = torch.where(draws(count, 1) < 0.7, 0.97, draws(count, 1, low=-0.5, high=0.9))
    reach = draws(count, 1, low=0.015, high=0.25)
    dwell = torch.exp(-(((time - where_) / reach) ** 2))
    rests = draws(count, 1, low=0.15, high=0.7) * (draws(count, 1) < 0.4)
    weight = (1 - rests) * weight / weight.sum(1, keepdim=True) + rests * dwell / dwell.sum(1, keepdim=True)
    points = torch.stack([across, down], dim=2)
    return _centred(_turned(points, draws(count, high=6.28)), weight)


def _turned(points: Tensor, angle: Tensor) -> Tensor:
    cosine, sine = angle.cos()[:, None], angle.sin()[:, None]
    across, down = points.unbind(2)
    return torch.stack([across * cosine - down * sine, across * sine + down * cosine], dim=2)


def _centred(points: Tensor, weight: Tensor) -> tuple[Tensor, Tensor]:
    weight = weight / weight.sum(1, keepdim=True)
    return points - (points * weight[..., None]).sum(1, keepdim=True), weight


def _moments(points: Tensor, weight: Tensor) -> Tensor:
    across, down = points.unbind(2)
    return torch.stack(
        [(across**2 * weight).sum(1), (down**2 * weight).sum(1), (across * down * weight).sum(1)], dim=1
    )


def _factor(points: Tensor, weight: Tensor, variance: Tensor) -> Tensor:
    """What the points are to be multiplied with to have this variance, averaged over both axes."""
    now = _moments(points, weight)
    return (variance / ((now[:, 0] + now[:, 1]) / 2)).sqrt()[:, None, None]


def _transfer(points: Tensor, weight: Tensor, down: Tensor, across: Tensor) -> Tensor:
    """Sum over points of weight * exp(-2 pi i f p), as a product of two matrices."""
    turn_across = -2 * math.pi * points[..., 0][:, :, None] * across
    turn_down = -2 * math.pi * points[..., 1][:, None, :] * down[:, None]
    of_down = torch.complex(turn_down.cos(), turn_down.sin()) * weight[:, None]
    of_across = torch.complex(turn_across.cos(), turn_across.sin())
    return of_down @ of_across
