"""What lens and hand do to a point of light: kernels, and the blur they amount to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MOVED = ("moved", "mixed")


@dataclass(frozen=True, slots=True)
class Kernel:
    """A point of light as a cloud of points with weights: no pixel has been at it yet."""

    name: str
    x_px: Floats
    y_px: Floats
    """Downwards."""
    weight: Floats
    """Sums to 1."""
    round_px: float = 0.0
    """Sigma of a Gaussian that is folded in on top: the lens."""

    @property
    def covariance(self) -> NDArray[Any]:
        """Second moments about the centre, px^2, shape (2, 2): x first."""
        x = self.x_px - (self.weight * self.x_px).sum()
        y = self.y_px - (self.weight * self.y_px).sum()
        xy = float((self.weight * x * y).sum())
        moments = np.array([[(self.weight * x * x).sum(), xy], [xy, (self.weight * y * y).sum()]])
        return np.asarray(moments + self.round_px**2 * np.eye(2))

    @property
    def sigma_px(self) -> float:
        """Root of the mean variance of both axes."""
        return math.sqrt(float(np.trace(self.covariance)) / 2)

    @property
    def direction_deg(self) -> float:
        """Of the longer axis: 0 along a row, counterclockwise as seen, modulo 180."""
        (xx, xy), (_, yy) = self.covariance
        return math.degrees(0.5 * math.atan2(-2 * xy, xx - yy)) % 180

    def transfer(self, shape: tuple[int, int], samples_per_px: float) -> NDArray[np.complex64]:
        """What it leaves of each frequency that `rfft2` of such an array holds."""
        down = np.fft.fftfreq(shape[0])[:, None] * samples_per_px
        across = np.fft.rfftfreq(shape[1])[:, None] * samples_per_px
        centre_x, centre_y = (self.weight * self.x_px).sum(), (self.weight * self.y_px).sum()
        left = np.exp(-2j * np.pi * down * (self.y_px - centre_y)).astype(np.complex64)
        right = np.exp(-2j * np.pi * across * (self.x_px - centre_x)).astype(np.complex64)
        found = (left * self.weight.astype(np.float32)) @ right.T
        lens = np.exp(-2 * np.pi**2 * self.round_px**2 * (down**2 + across.T**2))
        return np.asarray(found * lens.astype(np.float32), np.complex64)


def gaussian(sigma_px: float) -> Kernel:
    """Nothing but a Gaussian."""
    return Kernel("gaussian", np.zeros(1), np.zeros(1), np.ones(1), sigma_px)


def disc(
    sigma_px: float, lens_px: float, *, rim: float = 0.0, cut: float = 0.0, angle_deg: float = 0.0
) -> Kernel:
    """A defocused point: a disc, with a brighter or dimmer rim, and a side cut off as by the mount.

    Parameters
    ----------
    rim
        Light at the rim against the middle: 1 is twice, -1 none.
    cut
        Share of the diameter that is missing on one side.
    """
    x, y = _grid()
    radius = np.hypot(x, y)
    light = np.where(radius <= 1, np.maximum(1 + rim * radius**4, 0), 0.0)
    turn = math.radians(angle_deg)
    light[x * math.cos(turn) + y * math.sin(turn) > 1 - 2 * cut] = 0
    return _sized("disc", x, y, light, sigma_px, lens_px)


def coma(sigma_px: float, lens_px: float, angle_deg: float) -> Kernel:
    """A point off the axis: ever larger and dimmer circles, each farther from the bright tip."""
    size, around = np.meshgrid(np.linspace(0.05, 1, 20), np.arange(36) * 2 * math.pi / 36)
    along = size**2 * (2 + np.cos(around))
    across = size**2 * np.sin(around)
    turn = math.radians(angle_deg)
    x = along * math.cos(turn) - across * math.sin(turn)
    y = along * math.sin(turn) + across * math.cos(turn)
    return _sized("coma", x.ravel(), y.ravel(), np.broadcast_to(size, x.shape).ravel(), sigma_px, lens_px)


def moved(sigma_px: float, lens_px: float, random: np.random.Generator) -> Kernel:
    """The path of a hand or of the animal: straight, bent, unsteady, or dwelling at an end."""
    time = np.linspace(0, 1, 160)
    kind = random.choice(["straight", "bent", "unsteady", "dwells"])
    along, across = time.copy(), np.zeros_like(time)
    if kind == "bent":
        across = random.uniform(-0.5, 0.5) * time**2
    elif kind == "unsteady":
        waves = [
            random.normal(0, 0.06) * np.sin(math.pi * n * time + random.uniform(0, 6)) for n in (2, 3, 5)
        ]
        across = np.sum(waves, axis=0)
        along = along + 0.3 * np.sin(2 * math.pi * time) / (2 * math.pi)
    elif kind == "dwells":
        along = np.maximum(0, time - random.uniform(0.3, 0.6))
    turn = random.uniform(0, math.pi)
    x = along * math.cos(turn) - across * math.sin(turn)
    y = along * math.sin(turn) + across * math.cos(turn)
    return _sized("moved", x, y, np.ones_like(time), sigma_px, lens_px)


def mixed(first: Kernel, second: Kernel, random: np.random.Generator, points: int = 900) -> Kernel:
    """One after the other: every point of one is spread as the other."""
    x = first.x_px[:, None] + second.x_px[None]
    y = first.y_px[:, None] + second.y_px[None]
    weight = (first.weight[:, None] * second.weight[None]).ravel()
    chosen = random.choice(weight.size, size=points, p=weight / weight.sum())
    lens = math.hypot(first.round_px, second.round_px)
    even = np.full(points, 1 / points)
    return Kernel("mixed", x.ravel()[chosen], y.ravel()[chosen], even, max(lens, 0.3))


def drawn(name: str, sigma_px: float, random: np.random.Generator) -> Kernel:
    """A kernel of a kind, about as large as asked for: its `sigma_px` says exactly."""
    lens_px = min(sigma_px * 0.8, random.uniform(0.15, 0.45))
    angle = float(random.uniform(0, 360))
    if name == "gaussian":
        return gaussian(sigma_px)
    if name == "disc":
        rim = float(random.uniform(-0.8, 1.5))
        cut = float(random.choice([0.0, 0.0, random.uniform(0.05, 0.25)]))
        return disc(sigma_px, lens_px, rim=rim, cut=cut, angle_deg=angle)
    if name == "coma":
        return coma(sigma_px, lens_px, angle)
    if name == "moved":
        return moved(sigma_px, lens_px, random)
    share = random.uniform(0.3, 0.6)
    still = disc(sigma_px * math.sqrt(share), lens_px, rim=float(random.uniform(-0.5, 1)))
    return mixed(still, moved(sigma_px * math.sqrt(1 - share), 0.15, random), random)


def _grid() -> tuple[Floats, Floats]:
    steps = np.linspace(-1, 1, 31)
    x, y = np.meshgrid(steps, steps)
    return x.ravel(), y.ravel()


def _sized(name: str, x: Floats, y: Floats, light: Floats, sigma_px: float, lens_px: float) -> Kernel:
    """Stretched so that its second moments, the lens's included, amount to sigma_px."""
    weight = light / light.sum()
    keep = weight > 0
    x, y, weight = x[keep], y[keep], weight[keep]
    plain = Kernel(name, x, y, weight).sigma_px
    factor = math.sqrt(max(sigma_px**2 - lens_px**2, 1e-6)) / plain
    return Kernel(name, x * factor, y * factor, weight, lens_px)
