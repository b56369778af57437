"""The animals of the estuary, drawn from ellipses, feathers and fur.

Each is drawn once, sharp, as colour (already multiplied by its cover) and cover (alpha). Lengths are in
units of the animal's length, places count from its head, x to the right and y down.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, hypot, radians, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from auditor.demo.filters import Plane, smooth_noise, streaked_noise

Colour = tuple[float, float, float]


class Cover(NamedTuple):
    """How far a stroke covers each pixel, 0 to 1, in the window outside of which it covers nothing."""

    window: tuple[slice, slice]
    share: Plane


class Canvas:
    """A place to draw one animal, its head at the focus area.

    Parameters
    ----------
    shape
        Rows and columns.
    head_px
        Across and down from the top left.
    size_px
        The animal's length.
    seed
        Of its feathers.
    """

    def __init__(
        self, shape: tuple[int, int], head_px: tuple[float, float], size_px: float, seed: int
    ) -> None:
        self.size_px = size_px
        self.x = (np.arange(shape[1], dtype=float)[None, :] - head_px[0]) / size_px
        self.y = (np.arange(shape[0], dtype=float)[:, None] - head_px[1]) / size_px
        self.shape = shape
        self._next_seed = seed
        self.colour = np.zeros((*shape, 3))
        self.alpha = np.zeros(shape)

    def ellipse(self, x: float, y: float, length: float, height: float, tilt_deg: float = 0.0) -> Cover:
        """Cover of an ellipse with a soft edge of one pixel."""
        along, across = cos(radians(tilt_deg)), sin(radians(tilt_deg))
        grown = 1 + 1 / (min(length, height) * self.size_px)  # to where the soft edge ends
        half_width = grown * hypot(length * along, height * across) / 2
        half_height = grown * hypot(length * across, height * along) / 2
        window = self._window(x - half_width, x + half_width, y - half_height, y + half_height)
        dx, dy = self.x[:, window[1]] - x, self.y[window[0]] - y
        radius = np.hypot(
            (dx * along + dy * across) / (length / 2), (-dx * across + dy * along) / (height / 2)
        )
        inward_px = (1 - radius) * min(length, height) / 2 * self.size_px
        return Cover(window, np.asarray(np.clip(inward_px + 0.5, 0, 1)))

    def stroke(
        self, x0: float, y0: float, x1: float, y1: float, thick0: float, thick1: float | None = None
    ) -> Cover:
        """Cover of a line that may taper."""
        thick1 = thick0 if thick1 is None else thick1
        reach = max(thick0, thick1) / 2 + 0.5 / self.size_px
        window = self._window(
            min(x0, x1) - reach, max(x0, x1) + reach, min(y0, y1) - reach, max(y0, y1) + reach
        )
        x, y = self.x[:, window[1]], self.y[window[0]]
        length2 = (x1 - x0) ** 2 + (y1 - y0) ** 2
        share = np.clip(((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / length2, 0, 1)
        away = np.hypot(x - x0 - share * (x1 - x0), y - y0 - share * (y1 - y0))
        half = (thick0 + share * (thick1 - thick0)) / 2
        return Cover(window, np.asarray(np.clip((half - away) * self.size_px + 0.5, 0, 1)))

    def paint(self, cover: Cover, colour: Colour, texture: Plane | None = None) -> None:
        """Lay a colour over what is there."""
        window, share = cover
        laid: NDArray[np.float64] = np.array(colour)
        if texture is not None:
            laid = laid * np.clip(1 + texture[window], 0.15, 2.2)[..., None]
        self.colour[window] = self.colour[window] * (1 - share[..., None]) + laid * share[..., None]
        self.alpha[window] = self.alpha[window] * (1 - share) + share

    def _window(self, left: float, right: float, top: float, bottom: float) -> tuple[slice, slice]:
        """Rows and columns of a box, with a pixel to spare."""
        spare = 1 / self.size_px
        columns = np.searchsorted(self.x[0], (left - spare, right + spare))
        rows = np.searchsorted(self.y[:, 0], (top - spare, bottom + spare))
        return slice(*rows.tolist()), slice(*columns.tolist())

    def feathers(self, strength: float, angle_deg: float) -> Plane:
        """Streaks from barbs of a pixel to whole feathers."""
        seed = self._next_seed
        self._next_seed += 3
        fine = streaked_noise(seed, self.shape, 0.5, 3.0, angle_deg)
        middle = streaked_noise(seed + 1, self.shape, 1.3, 8.0, angle_deg + 12)
        coarse = streaked_noise(seed + 2, self.shape, 4.0, 16.0, angle_deg - 8)
        return strength * (0.55 * fine + 0.5 * middle + 0.45 * coarse)

    def eye(self, x: float, y: float, size: float) -> None:
        """A dark eye with a light in it."""
        self.paint(self.ellipse(x, y, size * 1.35, size * 1.35), (0.42, 0.33, 0.16))
        self.paint(self.ellipse(x, y, size, size), (0.01, 0.01, 0.012))
        self.paint(
            self.ellipse(x + size * 0.18, y - size * 0.2, size * 0.28, size * 0.28), (0.95, 0.95, 0.92)
        )


def _wader(canvas: Canvas) -> None:
    legs = (0.10, 0.09, 0.06)
    canvas.paint(canvas.stroke(-0.40, 0.38, -0.43, 0.78, 0.022), legs)
    canvas.paint(canvas.stroke(-0.30, 0.38, -0.27, 0.78, 0.022), legs)
    canvas.paint(canvas.ellipse(-0.38, 0.24, 0.72, 0.36, -12), (0.40, 0.31, 0.21), canvas.feathers(0.5, -14))
    canvas.paint(canvas.ellipse(-0.26, 0.33, 0.44, 0.20, -8), (0.66, 0.62, 0.54), canvas.feathers(0.18, 60))
    canvas.paint(canvas.ellipse(-0.06, 0.10, 0.20, 0.34, 25), (0.44, 0.35, 0.25), canvas.feathers(0.4, 70))
    canvas.paint(canvas.ellipse(0.0, -0.01, 0.25, 0.20, 8), (0.42, 0.33, 0.23), canvas.feathers(0.45, 10))
    canvas.paint(canvas.stroke(0.10, 0.0, 0.46, 0.07, 0.045, 0.012), (0.05, 0.045, 0.04))
    canvas.eye(0.03, -0.02, 0.05)


def _tern(canvas: Canvas) -> None:
    canvas.paint(canvas.ellipse(-0.42, -0.22, 0.85, 0.16, 38), (0.62, 0.65, 0.68), canvas.feathers(0.22, 40))
    canvas.paint(canvas.ellipse(-0.36, 0.06, 0.70, 0.20, 4), (0.80, 0.81, 0.81), canvas.feathers(0.14, 4))
    canvas.paint(canvas.stroke(-0.66, 0.05, -0.98, 0.02, 0.06, 0.01), (0.75, 0.76, 0.77))
    canvas.paint(canvas.ellipse(-0.30, 0.20, 0.80, 0.15, -30), (0.70, 0.72, 0.74), canvas.feathers(0.25, -32))
    canvas.paint(canvas.ellipse(0.0, 0.02, 0.24, 0.18, 6), (0.78, 0.78, 0.77), canvas.feathers(0.16, 6))
    canvas.paint(canvas.ellipse(-0.01, -0.04, 0.24, 0.11, 8), (0.025, 0.025, 0.03), canvas.feathers(0.5, 8))
    canvas.paint(canvas.stroke(0.10, 0.02, 0.28, 0.05, 0.045, 0.008), (0.55, 0.10, 0.04))
    canvas.eye(0.03, -0.005, 0.035)


def _heron(canvas: Canvas) -> None:
    canvas.paint(canvas.ellipse(-0.46, 0.62, 0.80, 0.42, 28), (0.34, 0.37, 0.41), canvas.feathers(0.38, 30))
    canvas.paint(
        canvas.stroke(-0.03, 0.05, -0.20, 0.30, 0.11, 0.12), (0.62, 0.61, 0.58), canvas.feathers(0.3, 60)
    )
    canvas.paint(
        canvas.stroke(-0.20, 0.30, -0.16, 0.58, 0.12, 0.17), (0.60, 0.59, 0.57), canvas.feathers(0.3, 85)
    )
    canvas.paint(canvas.ellipse(0.0, 0.0, 0.27, 0.14, 6), (0.70, 0.69, 0.67), canvas.feathers(0.22, 6))
    canvas.paint(
        canvas.stroke(0.02, -0.045, -0.26, -0.02, 0.05, 0.008), (0.03, 0.03, 0.04), canvas.feathers(0.4, 0)
    )
    canvas.paint(canvas.stroke(0.11, 0.0, 0.47, 0.05, 0.07, 0.012), (0.55, 0.38, 0.10))
    canvas.eye(0.05, -0.015, 0.042)


def _otter(canvas: Canvas) -> None:
    canvas.paint(canvas.ellipse(-0.46, 0.26, 0.95, 0.38, 12), (0.16, 0.11, 0.07), canvas.feathers(0.6, 14))
    canvas.paint(canvas.ellipse(-0.10, 0.14, 0.38, 0.34, 30), (0.24, 0.17, 0.11), canvas.feathers(0.5, 50))
    canvas.paint(canvas.ellipse(0.0, 0.0, 0.38, 0.29, 10), (0.22, 0.15, 0.095), canvas.feathers(0.55, 20))
    canvas.paint(canvas.ellipse(0.13, 0.06, 0.19, 0.14, 12), (0.40, 0.33, 0.25), canvas.feathers(0.35, 15))
    canvas.paint(canvas.ellipse(0.205, 0.03, 0.055, 0.04, 12), (0.02, 0.017, 0.015))
    canvas.paint(canvas.ellipse(-0.11, -0.10, 0.07, 0.07), (0.13, 0.09, 0.06), canvas.feathers(0.4, 60))
    for rise in (-0.03, 0.0, 0.03):
        canvas.paint(
            canvas.stroke(0.15, 0.07 + rise / 2, 0.31, 0.10 + rise * 2.4, 0.006, 0.003), (0.75, 0.72, 0.66)
        )
    canvas.eye(0.07, -0.025, 0.042)


SUBJECTS: dict[str, Callable[[Canvas], None]] = {
    "wader": _wader,
    "tern": _tern,
    "heron": _heron,
    "otter": _otter,
}


def draw(
    name: str, shape: tuple[int, int], head_px: tuple[float, float], size_px: float, seed: int
) -> tuple[Plane, Plane]:
    """An animal: colour times cover, shape (rows, columns, 3), and cover, shape (rows, columns).

    Parameters
    ----------
    name
        Of SUBJECTS; the others as for Canvas.
    """
    canvas = Canvas(shape, head_px, size_px, seed)
    SUBJECTS[name](canvas)
    return canvas.colour, canvas.alpha


def shingle(shape: tuple[int, int], seed: int) -> tuple[Plane, Plane]:
    """Stones along the bottom of the picture: what the focus went to instead."""
    rows = np.linspace(0, 1, shape[0])[:, None]
    edge = 0.80 + 0.05 * smooth_noise(seed + 3, shape, 22)
    cover = np.clip((rows - edge) * shape[0] / 2, 0, 1)
    stones = 0.5 * smooth_noise(seed + 4, shape, 3.5) + 0.4 * smooth_noise(seed + 5, shape, 1.2)
    tone = np.clip(0.33 * (1 + 0.45 * np.sign(stones) * np.abs(stones) ** 0.6), 0.03, 0.9)
    colour = tone[..., None] * np.array((1.0, 0.95, 0.86))
    return colour * cover[..., None], cover
