"""Scenes drawn by chance: fur, feathers, leaves, grass, bark, stone, twigs, water, fog. In linear light.

Nearly all are heaps of stamps: shapes with a length, a width, a bend and a shade, painted over one another
three times as large as they are seen. Water, stone and fog are fields of noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import torch
from torch import Tensor

DRAWN_AT = 3
DENSITY = 1.5
"""Points a pixel, along each axis, with which a stamp is filled."""
MOST_POINTS = 24_000_000


class Chance:
    """Random numbers of one scene."""

    def __init__(self, seed: int, device: torch.device) -> None:
        self.generator = torch.Generator(device="cpu").manual_seed(seed)
        self.device = device

    def one(self, low: float = 0.0, high: float = 1.0) -> float:
        return low + (high - low) * float(torch.rand((), generator=self.generator))

    def size(self, low: float, high: float) -> float:
        """Even in the logarithm."""
        return math.exp(self.one(math.log(low), math.log(high)))

    def many(self, count: int, low: float = 0.0, high: float = 1.0) -> Tensor:
        return (low + (high - low) * torch.rand(count, generator=self.generator)).to(self.device)

    def normal(self, *shape: int) -> Tensor:
        return torch.randn(*shape, generator=self.generator).to(self.device)

    def pick(self, count: int) -> int:
        return int(torch.randint(count, (), generator=self.generator))


class Canvas:
    """A square that stamps are painted on, the later over the earlier."""

    def __init__(self, side_px: int, chance: Chance) -> None:
        self.side_px = side_px
        self.big = side_px * DRAWN_AT
        self.chance = chance
        ground = chance.one(0.02, 0.25)
        self.tones = torch.full((self.big, self.big), ground, device=chance.device)

    def paint(
        self,
        x: Tensor,
        y: Tensor,
        half_length: Tensor,
        half_width: Tensor,
        angle: Tensor,
        tone: Tensor,
        *,
        taper: float = 0.5,
        bend: float = 0.0,
        ripple: float = 0.0,
        round_shade: float = 0.3,
        vein: float = 0.0,
    ) -> None:
        """Stamps, one an entry; px of the finished scene, radians.

        taper: width falls as (1 - u^2)^taper to both ends (0 a bar, 0.5 an ellipse, 1 a leaf).
        """
        device = self.chance.device
        scale = float(DRAWN_AT)
        a, b = half_length * scale, half_width * scale
        along = (2 * a * DENSITY).ceil().clamp(2, 1500).long()
        beside = (2 * b * DENSITY).ceil().clamp(2, 1500).long()
        points = along * beside
        inside = points.cumsum(0) <= MOST_POINTS
        keep = inside.nonzero()[:, 0]
        points, along, beside = points[keep], along[keep], beside[keep]
        which = torch.repeat_interleave(torch.arange(len(keep), device=device), points)
        start = points.cumsum(0) - points
        place = torch.arange(len(which), device=device) - start[which]
        n_beside = beside[which]
        u = (place // n_beside).float() / (along[which] - 1).float() * 2 - 1
        s = (place % n_beside).float() / (n_beside - 1).float() * 2 - 1
        bends = (self.chance.normal(len(keep)) * bend)[which]
        phase = self.chance.many(len(keep), 0, 6.28)[which]
        width = (1 - u * u).clamp(min=0) ** taper * (1 + ripple * torch.sin(4 * u + phase))
        v = s * width
        a, b, turn = a[keep][which], b[keep][which], angle[keep][which]
        across = u * a
        down = v * b + bends * a * u * u
        column = x[keep][which] * scale + across * turn.cos() - down * turn.sin()
        row = y[keep][which] * scale + across * turn.sin() + down * turn.cos()
        value = tone[keep][which] * (1 - round_shade * s * s) * (1 + vein * (s.abs() < 0.12).float())
        index = (row.long() % self.big) * self.big + column.long() % self.big
        packed = (which.int() + 1) * 256 + (value.clamp(0, 1).sqrt() * 255).int()
        top = torch.zeros(self.big * self.big, dtype=torch.int32, device=device)
        top.scatter_reduce_(0, index, packed, reduce="amax")
        painted = top > 0
        shade = ((top % 256).float() / 255) ** 2
        self.tones = torch.where(painted, shade, self.tones.ravel()).reshape(self.big, self.big)

    def finished(self) -> Tensor:
        return torch.nn.functional.avg_pool2d(self.tones[None, None], DRAWN_AT)[0, 0]


def field(
    chance: Chance, side_px: int, size_px: float, *, stretch: float = 1.0, angle: float = 0.0
) -> Tensor:
    """Smooth noise of mean 0 and deviation 1, drawn out along an angle."""
    rows = torch.fft.fftfreq(side_px, device=chance.device)[:, None]
    columns = torch.fft.rfftfreq(side_px, device=chance.device)[None]
    along = columns * math.cos(angle) + rows * math.sin(angle)
    beside = rows * math.cos(angle) - columns * math.sin(angle)
    transfer = torch.exp(-2 * math.pi**2 * size_px**2 * ((stretch * along) ** 2 + beside**2))
    return _shaped(chance, side_px, transfer)


def rough(chance: Chance, side_px: int, steepness: float, *, coarsest_px: float = 200.0) -> Tensor:
    """Noise whose amplitude falls with frequency to the power of -steepness."""
    rows = torch.fft.fftfreq(side_px, device=chance.device)[:, None]
    columns = torch.fft.rfftfreq(side_px, device=chance.device)[None]
    radius = (rows**2 + columns**2).sqrt().clamp(min=1 / coarsest_px)
    return _shaped(chance, side_px, radius**-steepness)


def _shaped(chance: Chance, side_px: int, transfer: Tensor) -> Tensor:
    noise = torch.fft.irfft2(
        torch.fft.rfft2(chance.normal(side_px, side_px)) * transfer, s=(side_px, side_px)
    )
    return (noise - noise.mean()) / noise.std().clamp(min=1e-9)


def _flow(chance: Chance, x: Tensor, y: Tensor, side_px: int, swing: float, base: float) -> Tensor:
    """Directions that change slowly over the picture, at some places."""
    smooth = field(chance, side_px, side_px / chance.one(6, 14))
    return base + swing * smooth[(y.long() % side_px), (x.long() % side_px)]


def _tones(chance: Chance, count: int) -> Tensor:
    level, spread = chance.one(0.08, 0.5), chance.one(0.15, 0.9)
    return (level * torch.exp(spread * chance.normal(count))).clamp(0.005, 1)


def _strokes(
    canvas: Canvas, chance: Chance, length: float, width: float, *, cover: float, swing: float, spread: float,
    base: float, taper: float = 0.5, bend: float = 0.1, vein: float = 0.0, ripple: float = 0.0,
) -> None:  # fmt: skip
    side = canvas.side_px
    count = int(min(max(30, cover * side * side / (length * width)), 30_000))
    x, y = chance.many(count, 0, side), chance.many(count, 0, side)
    angle = _flow(chance, x, y, side, swing, base) + spread * chance.normal(count)
    sizes = torch.exp(0.25 * chance.normal(count))
    canvas.paint(
        x, y, length / 2 * sizes, width / 2 * sizes.sqrt(), angle, _tones(chance, count),
        taper=taper, bend=bend, round_shade=chance.one(0, 0.7), vein=vein, ripple=ripple,
    )  # fmt: skip


def fur(chance: Chance, side: int) -> Tensor:
    canvas = Canvas(side, chance)
    width = chance.size(0.5, 4)
    _strokes(canvas, chance, width * chance.one(8, 22), width, cover=3, swing=chance.one(0.1, 0.9),
             spread=chance.one(0.05, 0.35), base=chance.one(0, 6.28), bend=0.15)  # fmt: skip
    return canvas.finished() * (1 + 0.35 * field(chance, side, chance.one(12, 60))).clamp(0.2, 2)


def feathers(chance: Chance, side: int) -> Tensor:
    """Barbs that follow the shaft of the feather they are on, each feather with its own tone and rim."""
    canvas = Canvas(side, chance)
    big = chance.size(18, 120)
    _strokes(canvas, chance, 2.2 * big, big, cover=3, swing=0.3, spread=0.15, base=chance.one(0, 6.28),
             taper=0.5, vein=chance.one(-0.6, 1.0))  # fmt: skip
    feather = canvas.finished()
    barbs = Canvas(side, chance)
    width = chance.size(0.5, 2.5)
    _strokes(barbs, chance, width * 18, width, cover=3, swing=chance.one(0.4, 1.5), spread=0.06,
             base=chance.one(0, 6.28), taper=0.2)  # fmt: skip
    share = chance.one(0.25, 0.8)
    return feather * (1 - share + share * barbs.finished() / barbs.finished().mean())


def leaves(chance: Chance, side: int) -> Tensor:
    canvas = Canvas(side, chance)
    size = chance.size(5, 70)
    _strokes(canvas, chance, size, size * chance.one(0.2, 0.6), cover=chance.one(0.8, 4), swing=0.8,
             spread=chance.one(0.3, 1.5), base=chance.one(0, 6.28), taper=0.8, vein=chance.one(0, 1),
             ripple=chance.one(0, 0.25))  # fmt: skip
    return canvas.finished()


def grass(chance: Chance, side: int) -> Tensor:
    canvas = Canvas(side, chance)
    for layer in range(2):
        width = chance.size(0.8, 7)
        _strokes(canvas, chance, width * chance.one(15, 45), width, cover=chance.one(0.5, 2.0) / (layer + 1),
                 swing=0.1, spread=chance.one(0.08, 0.35), base=math.pi / 2, bend=0.2)  # fmt: skip
    return canvas.finished()


def bark(chance: Chance, side: int) -> Tensor:
    canvas = Canvas(side, chance)
    width = chance.size(3, 25)
    _strokes(canvas, chance, width * chance.one(2, 8), width, cover=3, swing=0.1, spread=0.12,
             base=math.pi / 2, taper=0.15, ripple=0.3)  # fmt: skip
    cracks = rough(chance, side, chance.one(0.9, 1.5), coarsest_px=60)
    return canvas.finished() * (1 + chance.one(0.1, 0.4) * cracks).clamp(0.1, 2.5)


def pebbles(chance: Chance, side: int) -> Tensor:
    canvas = Canvas(side, chance)
    for size in (chance.size(8, 60), chance.size(2, 14)):
        _strokes(canvas, chance, size, size * chance.one(0.5, 1), cover=chance.one(1, 3), swing=0.5,
                 spread=1.0, base=0, taper=0.45, ripple=0.15)  # fmt: skip
    grain = rough(chance, side, chance.one(0.4, 1.2), coarsest_px=30)
    return canvas.finished() * (1 + chance.one(0, 0.25) * grain).clamp(0.1, 2.5)


def shapes(chance: Chance, side: int) -> Tensor:
    """Few large plain shapes: edges that stand alone."""
    canvas = Canvas(side, chance)
    few = chance.one() < 0.4
    count = chance.pick(5) + 1 if few else chance.pick(60) + 8
    larger = 1.5 if few else 0.0
    canvas.paint(
        chance.many(count, 0, side), chance.many(count, 0, side),
        torch.exp(chance.many(count, 2, 5) + larger),
        torch.exp(chance.many(count, 1, 4.3) + larger), chance.many(count, 0, 6.28), _tones(chance, count),
        taper=(0.0, 0.5, 1.0)[chance.pick(3)], round_shade=chance.one(0, 0.4), bend=0.2,
    )  # fmt: skip
    return canvas.finished()


def twigs(chance: Chance, side: int) -> Tensor:
    """Twigs and stems before a distance without detail."""
    canvas = Canvas(side, chance)
    ground = 0.35 + 0.12 * field(chance, side, side / 8)
    canvas.tones = torch.nn.functional.interpolate(
        ground.clamp(0.02, 1)[None, None], scale_factor=DRAWN_AT, mode="bilinear"
    )[0, 0]
    width = chance.size(1, 12)
    _strokes(canvas, chance, width * chance.one(30, 90), width, cover=chance.one(0.1, 0.5), swing=0.3,
             spread=chance.one(0.2, 1.2), base=chance.one(0, 6.28), taper=0.1, bend=0.08)  # fmt: skip
    return canvas.finished()


def spots(chance: Chance, side: int) -> Tensor:
    """A coat of spots or stripes: two tones with hard rims, and hair over them."""
    big = side * 2
    coat = field(chance, big, chance.size(4, 40), stretch=chance.size(1, 6), angle=chance.one(0, 3.14))
    two = torch.where(coat > chance.one(-0.5, 0.8), chance.one(0.3, 0.9), chance.one(0.02, 0.25))
    two = torch.nn.functional.avg_pool2d(two[None, None], 2)[0, 0]
    hair = fur(chance, side)
    share = chance.one(0.05, 0.6)
    return two * (1 - share + share * hair / hair.mean())


def stone(chance: Chance, side: int) -> Tensor:
    """Rock and sand: rough at all sizes, with cracks."""
    level = rough(chance, side, chance.one(0.6, 1.3))
    shaded = torch.exp(chance.one(0.25, 0.8) * level)
    lines = field(chance, side, chance.size(6, 50)).abs() < chance.one(0.005, 0.05)
    return 0.25 * shaded * torch.where(lines, 0.35, 1.0)


def water(chance: Chance, side: int) -> Tensor:
    """Ripples, and glints where they tilt far enough."""
    size = chance.size(1.5, 14)
    waves = field(chance, side, size, stretch=chance.one(2, 6), angle=chance.one(-0.2, 0.2))
    waves = waves + 0.5 * field(chance, side, size / 3, stretch=3, angle=chance.one(-0.4, 0.4))
    glints = torch.sigmoid((waves - chance.one(1.2, 2.2)) * chance.one(4, 25))
    return (0.12 + 0.05 * waves).clamp(0.01, 1) + chance.one(0, 0.8) * glints


def fog(chance: Chance, side: int) -> Tensor:
    """Trunks and branches that fade with distance."""
    canvas = Canvas(side, chance)
    air = chance.one(0.3, 0.6)
    canvas.tones.fill_(air)
    for depth in (0.1, 0.3, 0.6, 1.0):
        count = 40 + chance.pick(120)
        tone = torch.full((count,), air * (1 - depth * chance.one(0.3, 0.9)), device=chance.device)
        upright = (chance.many(count) < 0.4).float()
        canvas.paint(
            chance.many(count, 0, side), chance.many(count, 0, side),
            torch.exp(chance.many(count, 2, 5)), torch.exp(chance.many(count, -0.5, 2)),
            upright * math.pi / 2 + (1 - upright) * chance.many(count, 0, 3.14) + 0.05 * chance.normal(count),
            tone, taper=0.3, bend=0.1, round_shade=0.2,
        )  # fmt: skip
    return canvas.finished() * (1 + 0.1 * field(chance, side, side / 6))


def soft(chance: Chance, side: int) -> Tensor:
    """Content without any edge: cloud, mist, smooth water, a far slope. What blur it has cannot be told."""
    if chance.one() < 0.5:
        smooth = rough(chance, side, chance.one(1.8, 3.0))
    else:
        smooth = field(chance, side, chance.size(2, 20), stretch=chance.size(1, 5), angle=chance.one(0, 3.14))
        smooth = smooth + chance.one(0, 0.5) * field(chance, side, chance.size(2, 8))
    return 0.3 * torch.exp(chance.one(0.1, 0.6) * smooth)


def combs(chance: Chance, side: int) -> Tensor:
    """Lines of one even spacing in patches, each with its own way, or in one: barbs, ribs, scales, weave."""
    big = side * DRAWN_AT
    steps = torch.arange(big, device=chance.device).float()
    rows, columns = steps[:, None], steps[None]
    bent = big / chance.one(8, 60) * field(chance, big, big / chance.one(4, 12))
    patches = 1 if chance.one() < 0.25 else 2 + chance.pick(40)
    nearest = torch.full((big, big), 1e12, device=chance.device)
    tones = torch.zeros(big, big, device=chance.device)
    spacing, base = chance.size(1.6, 16) * DRAWN_AT, chance.one(0, 3.14)
    same, contrast = chance.one() < 0.5, chance.one(0.15, 1)
    for _patch in range(patches):
        x, y = chance.one(0, big), chance.one(0, big)
        stretch, turn = chance.size(1, 4), base + chance.one(-0.5, 0.5)
        along = (columns - x) * math.cos(turn) + (rows - y) * math.sin(turn)
        beside = (rows - y) * math.cos(turn) - (columns - x) * math.sin(turn)
        away = (along / stretch) ** 2 + beside**2
        way = base + (chance.one(-0.3, 0.3) if same else chance.one(0, 3.14))
        wide = spacing * chance.size(0.8, 1.25)
        phase = ((columns + bent) * math.cos(way) + rows * math.sin(way)) / wide
        wave = (torch.remainder(phase, 1) - 0.5).abs() * 2
        share, hard = chance.one(0.25, 0.75), chance.size(1, 40)
        tone = chance.size(0.08, 0.7)
        line = tone * (1 - contrast * torch.sigmoid((share - wave) * hard))
        tones = torch.where(away < nearest, line, tones)
        nearest = torch.minimum(nearest, away)
    small = torch.nn.functional.avg_pool2d(tones[None, None], DRAWN_AT)[0, 0]
    return small * (1 + chance.one(0, 0.3) * field(chance, side, chance.one(10, 80))).clamp(0.2, 2)


def veils(chance: Chance, side: int) -> Tensor:
    """Shapes that let through some of what lies under them, with clear outlines: wings, thin leaves, plumage.

    Discs out of focus lie over each other in the same way; here the outlines are sharp.
    """
    big = side * DRAWN_AT
    steps = torch.arange(big, device=chance.device).float()
    size, through, base = chance.size(10, 90), chance.one(0.15, 0.9), chance.one(0, 6.28)
    spacing, lined = chance.size(1.6, 8) * DRAWN_AT, chance.one(0, 0.35)
    light = torch.full((big, big), chance.one(0.08, 0.4), device=chance.device)
    for _layer in range(5 + chance.pick(12)):
        layer = Canvas(side, chance)
        layer.tones.fill_(-1)  # where nothing is painted
        _strokes(layer, chance, size * chance.one(0.7, 1.5), size * chance.one(0.25, 0.6),
                 cover=chance.one(0.3, 1.0), swing=0.3, spread=chance.one(0.05, 0.5), base=base,
                 taper=chance.one(0.3, 1), vein=chance.one(0, 1) * (chance.one() < 0.5))  # fmt: skip
        way = base + chance.one(-1, 1)
        wave = torch.sin(
            (steps[None] * math.cos(way) + steps[:, None] * math.sin(way)) * 2 * math.pi / spacing
        )
        shade = layer.tones * (1 + lined * wave.sign() * (chance.one() < 0.6))
        light = torch.where(layer.tones >= 0, through * light + (1 - through) * shade, light)
    return torch.nn.functional.avg_pool2d(light[None, None], DRAWN_AT)[0, 0]


def coat(chance: Chance, side: int) -> Tensor:
    """Hair in layers: soft down below, guard hairs over it, little contrast between them."""
    below = fur(chance, side)
    canvas = Canvas(side, chance)
    canvas.tones = torch.nn.functional.interpolate(
        below.clamp(0.01, 1)[None, None], scale_factor=DRAWN_AT, mode="bilinear"
    )[0, 0]
    width = chance.size(0.4, 2)
    _strokes(canvas, chance, width * chance.one(12, 40), width, cover=chance.one(0.1, 1.2),
             swing=chance.one(0.1, 0.9), spread=chance.one(0.05, 0.5), base=chance.one(0, 6.28),
             taper=0.3, bend=0.2)  # fmt: skip
    hair = canvas.finished()
    return hair.mean() * (hair / hair.mean()).clamp(min=0.02) ** chance.one(0.15, 0.9)


def lawn(chance: Chance, side: int) -> Tensor:
    """Blades heaped without end, shaded along and across, so that few edges are hard."""
    canvas = Canvas(side, chance)
    width = chance.size(0.7, 6)
    lean, spread = chance.one(-0.5, 0.5), chance.one(0.1, 0.7)
    for _layer in range(3):
        _strokes(canvas, chance, width * chance.one(10, 50), width * chance.size(0.6, 1.6), cover=1.5,
                 swing=0.3, spread=spread, base=math.pi / 2 + lean, taper=chance.one(0.3, 1), bend=0.3,
                 vein=chance.one(-0.4, 0.4))  # fmt: skip
    shade = 1 + chance.one(0.1, 0.5) * field(chance, side, width * chance.one(1, 6), stretch=3, angle=1.57)
    return canvas.finished() * shade.clamp(0.15, 2.5)


def beside(chance: Chance, side: int) -> Tensor:
    """Two contents that share a picture: one in spots of the other, or veiled over it."""
    kinds = list(DRAWINGS)
    both = [DRAWINGS[kinds[chance.pick(len(kinds) - 1)]](chance, side) for _content in range(2)]
    if chance.one() < 0.4:
        share = chance.one(0.2, 0.8)
        return share * both[0] + (1 - share) * both[1]
    cover = torch.sigmoid(
        chance.size(2, 60) * (field(chance, side, chance.size(8, 90)) - chance.one(-0.7, 0.7))
    )
    return cover * both[0] + (1 - cover) * both[1]


DRAWINGS: dict[str, Callable[[Chance, int], Tensor]] = {
    "fur": fur, "feathers": feathers, "leaves": leaves, "grass": grass, "bark": bark, "pebbles": pebbles,
    "shapes": shapes, "twigs": twigs, "spots": spots, "stone": stone, "water": water, "fog": fog,
    "soft": soft, "combs": combs, "coat": coat, "lawn": lawn, "veils": veils, "beside": beside,
}  # fmt: skip


def drawn(kind: str, side_px: int, seed: int, device: torch.device) -> Tensor:
    """One scene in linear light, shape (3, side, side), 0 to 1."""
    chance = Chance(seed, device)
    grey = DRAWINGS[kind](chance, side_px)
    tint = (torch.tensor([chance.one(0.6, 1.2) for _colour in range(3)], device=device)).view(3, 1, 1)
    hue = 1 + chance.one(0, 0.25) * torch.stack(
        [field(chance, side_px, side_px / 10) for _colour in range(3)]
    )
    return (grey * tint * hue.clamp(0.3, 1.7)).clamp(0, 1)
