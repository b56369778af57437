"""Lights far brighter than white: the sun on ripples and drops, and highlights that a picture has cut off."""

from __future__ import annotations

import cv2
import numpy as np

from benchmarks.second_simulator.textures import Light

BRIGHTEST = 80.0
"""White is 1."""


def lit(light: Light, random: np.random.Generator) -> Light:
    """The same scene with lights: half of them glints of all strengths, half with its highlights raised."""
    return glinting(light, random) if random.random() < 0.5 else raised(light, random)


def glinting(light: Light, random: np.random.Generator) -> Light:
    """Glints along a band, 15 to 400 of them; how bright each is falls off as a power (Pareto)."""
    out = light.copy()
    rows, columns = light.shape[:2]
    count = int(np.exp(random.uniform(np.log(15), np.log(400))))
    middle, spread = random.uniform(0.2, 0.8) * rows, random.uniform(0.08, 0.4) * rows
    down = np.clip(random.normal(middle, spread, count), 0, rows - 1).astype(int)
    across = random.integers(columns, size=count)
    power = np.minimum(0.5 * (1 + random.pareto(0.9, count)) * float(light.max()), BRIGHTEST)
    half = random.integers(0, 3, count)
    for y, x, bright, radius in zip(down, across, power, half, strict=True):
        size = (int(radius) + 1, int(radius))
        cv2.ellipse(out, (int(x), int(y)), size, 0, 0, 360, (float(bright),) * 3, cv2.FILLED)
    return out


def raised(light: Light, random: np.random.Generator) -> Light:
    """The brightest hundredths as bright as they were before the picture was finished: up to 30 times."""
    grey = light.mean(2, keepdims=True)
    top = float(np.quantile(grey, random.uniform(0.9, 0.995)))
    above = np.clip((grey - top) / max(float(grey.max()) - top, 1e-4), 0, 1)
    return np.asarray(light * np.exp(random.uniform(0.5, 3.5) * above), np.float32)
