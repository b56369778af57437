"""Frames drawn by chance, with what is true of them: what training sees at every step."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import torch
from torch import Tensor
from torch.nn import functional as nnf

from benchmarks.focus_training import blur, camera, coding, edges
from benchmarks.focus_training.blur import Draws, Kernels
from benchmarks.focus_training.scenes import Bank

TILE_PX = 16
LEAST_SIGMA_PX = 0.2
"""Less blur than this is told as this: it cannot be seen."""
COMPOSITE_SHARE = 0.42
SHARPER_BEHIND = 0.3
"""Of what lies behind a subject, so much is sharper than it: focus on the background."""
BRIGHT_SHARE = 0.3
"""So many pictures hold light far over white: glints, sky between leaves, drops in the sun. Out of focus it
makes discs with clear rims, and moved it draws fine lines, neither of which is sharp."""
BRIGHTEST = 60.0
"""White is 1."""
COUNTED_SHARE = 0.05
"""The sharpest layer that has this share of a region is what the region's blur means; under IGNORED_SHARE it
does not count, and in between nothing is asked."""
IGNORED_SHARE = 0.012
MOVED_FROM = 0.25
LINE_FROM = 0.75


@dataclass
class Batch:
    """Pictures and labels; one entry a picture, blur in px of the finished picture."""

    luma: Tensor
    """(pictures, 1, side, side), 0 to 1."""
    front_px: Tensor
    """Blur of the subject, or of all where there is one layer."""
    back_px: Tensor
    whole_px: Tensor
    """Camera and lens included, of the front."""
    moved: Tensor
    """1 motion, 0 not, NaN in between."""
    twice_angle: Tensor
    """(pictures, 2): cosine and sine of twice the direction."""
    anisotropy: Tensor
    share: Tensor
    """(pictures, tiles, tiles): how much of a tile is subject; 1 everywhere where there is one layer."""
    iso: Tensor
    kind: Tensor
    scene: Tensor
    composite: Tensor

    @staticmethod
    def joined(parts: list[Batch]) -> Batch:
        return Batch(*(torch.cat([getattr(one, f.name) for one in parts]) for f in fields(Batch)))


def batch(
    bank: Bank, groups: int, of: int, side_px: int, generator: torch.Generator, chance: torch.Generator,
    *, unseen: bool = False,
) -> Batch:  # fmt: skip
    """So many groups of frames, each group by one camera."""
    return Batch.joined(
        [
            group(bank, of, side_px, camera.draw(chance, unseen=unseen), generator, chance)
            for _group in range(groups)
        ]
    )


def sigmas(count: int, draws: Draws) -> Tensor:
    """Blur on the sensor: half of it near the criterion, some of it very large, some none."""
    part = draws(count)

    def even(low: float, high: float) -> Tensor:
        return torch.exp(draws(count, low=math.log(low), high=math.log(high)))

    out = even(0.3, 2.6)
    for share, other in ((0.52, even(0.75, 1.8)), (0.35, even(1.0, 6.0)), (0.15, even(5.0, 12.0))):
        out = torch.where(part < share, other, out)
    return torch.where(part < 0.08, draws(count, high=0.3), out)


def group(
    bank: Bank, count: int, side_px: int, by: camera.Camera, generator: torch.Generator,
    chance: torch.Generator,
) -> Batch:  # fmt: skip
    """Frames by one camera."""
    device = bank.light.device
    draws = Draws(generator, device)
    margin = 12
    # Few sizes: each asks for a plan of its own.
    side = -(-(math.ceil((side_px + 10) / by.scale) + 2 * margin) // 32) * 32
    sigma = sigmas(count, draws) / by.scale
    front = blur.draw(sigma, generator)
    scene = torch.multinomial(bank.likely, count, replacement=True, generator=generator)
    light = _blurred(_exposed(_pieces(bank, scene, side, draws), draws), front.transfer(side))
    composite = draws(count) < COMPOSITE_SHARE
    share = torch.ones(count, 1, side, side, device=device)
    back_px = blur.sigma_of(front.moments())
    which = composite.nonzero()[:, 0]
    if len(which):
        behind, back = _background(bank, front.take(which), side, draws, generator)
        mask = _mask(len(which), side, draws, generator)
        before = _blurred(mask, front.take(which).transfer(side)).clamp(0, 1)
        plain = _exposed(_pieces(bank, scene[which], side, draws), draws)
        subject = _blurred(plain * mask, front.take(which).transfer(side))
        light = light.index_copy(0, which, subject + (1 - before) * behind)
        share = share.index_copy(0, which, before)
        back_px = back_px.index_copy(0, which, blur.sigma_of(back.moments()))
    with torch.no_grad():
        whole = edges.whole_sigma_px(front, by)
    luma = camera.developed(light.clamp(min=0), by, generator)
    luma, share = _cropped(luma, share, side_px, by, chance, margin)
    moments = front.moments()
    anisotropy = blur.anisotropy_of(moments)
    turn = 2 * blur.direction_of(moments)
    large = sigma * by.scale > 0.7
    moved = torch.full_like(sigma, math.nan)
    by_path = (front.kind == blur.PATH) | (front.kind == blur.MIXED)
    moved = torch.where(by_path & (anisotropy > MOVED_FROM) & large, 1.0, moved)
    # Coma and astigmatism draw a point out, too, and are no motion; only a line looks like nothing else.
    moved = torch.where(~by_path & large & (anisotropy < LINE_FROM), 0.0, moved)
    return Batch(
        luma=luma,
        front_px=blur.sigma_of(moments) * by.scale,
        back_px=back_px * by.scale,
        whole_px=whole,
        moved=moved,
        twice_angle=torch.stack([turn.cos(), turn.sin()], 1),
        anisotropy=anisotropy,
        share=nnf.avg_pool2d(share, TILE_PX)[:, 0],
        iso=torch.full_like(sigma, by.iso),
        kind=front.kind,
        scene=scene,
        composite=composite,
    )


def _pieces(bank: Bank, scene: Tensor, side: int, draws: Draws) -> Tensor:
    """Pieces of scenes, mirrored where a scene ends, flipped and turned: (pieces, 3, side, side)."""
    count, device = len(scene), scene.device
    scale = (draws(count) * bank.start.shape[1]).long()
    start, size = bank.start[scene, scale], bank.side[scene, scale]
    steps = torch.arange(side, device=device)

    def line() -> Tensor:
        """Places along one axis, going back where the scene ends."""
        first = (draws(count) * size * 2).long()
        place = (first[:, None] + steps) % (2 * size[:, None])
        return torch.where(place < size[:, None], place, 2 * size[:, None] - 1 - place)

    rows, columns = line(), line()
    index = start[:, None, None] + rows[:, :, None] * size[:, None, None] + columns[:, None, :]
    turned = draws(count) < 0.5
    index = torch.where(turned[:, None, None], index.transpose(1, 2), index)
    return bank.light[index].permute(0, 3, 1, 2).float()


def _exposed(light: Tensor, draws: Draws) -> Tensor:
    """Other colours, contrast and light: haze takes contrast, dusk takes light."""
    count = len(light)
    shape = (count, 1, 1, 1)
    light = light * draws(count, 3, low=0.6, high=1.4).view(count, 3, 1, 1)
    mean = light.mean((1, 2, 3), keepdim=True)
    power = torch.exp(draws(*shape, low=-0.5, high=0.5))
    light = mean * (light / mean.clamp(min=1e-4)).clamp(min=0) ** power
    mean = light.mean((1, 2, 3), keepdim=True)
    faint = draws(*shape) < 0.36
    contrast = torch.where(faint, torch.exp(draws(*shape, low=math.log(0.06), high=0)), torch.ones_like(mean))
    light = mean + contrast * (light - mean)
    target = torch.exp(draws(*shape, low=math.log(0.03), high=math.log(0.4)))
    return _glinting((light * target / mean.clamp(min=1e-4)).clamp(min=0), draws)


def _glinting(light: Tensor, draws: Draws) -> Tensor:
    """Some with light far over white, which a finished picture no longer holds: what is bright brighter, or
    points anywhere."""
    count = len(light)
    shape = (count, 1, 1, 1)
    grey = light.mean(1, keepdim=True)
    ranked = grey[..., ::4, ::4].flatten(1).sort(1).values
    rank = (draws(count, 1, low=0.7, high=0.995) * ranked.shape[1]).long()
    level, most = ranked.gather(1, rank).view(shape), ranked[:, -1].view(shape)
    above = (grey - level).clamp(min=0) / (most - level).clamp(min=1e-4)
    gain = torch.exp(draws(*shape, high=math.log(BRIGHTEST)))
    brighter = light * (1 + gain * above**2)
    density = torch.exp(draws(*shape, low=math.log(1e-5), high=math.log(2e-3)))
    points = (draws(*grey.shape) < density) * torch.exp(draws(*grey.shape, low=-1.5) + gain.log())
    how, bright = draws(*shape), draws(*shape) < BRIGHT_SHARE
    lit = torch.where(how < 0.6, brighter, light) + torch.where(how > 0.4, points, torch.zeros_like(points))
    return torch.where(bright, lit.clamp(max=BRIGHTEST), light.clamp(max=1.2))


def _blurred(light: Tensor, transfer: Tensor) -> Tensor:
    return torch.fft.irfft2(torch.fft.rfft2(light) * transfer[:, None], s=light.shape[-2:])


def _background(
    bank: Bank, front: Kernels, side: int, draws: Draws, generator: torch.Generator
) -> tuple[Tensor, Kernels]:
    """What lies behind, mostly more blurred than the subject; and its blur."""
    count = len(front.kind)
    front_px = blur.sigma_of(front.moments())
    further = torch.exp(draws(count, low=math.log(0.7), high=math.log(9)))
    sharper = draws(count) < SHARPER_BEHIND
    nearer = front_px * draws(count, low=0.1, high=0.75)
    sigma = torch.where(sharper, nearer, (front_px**2 + further**2).sqrt()).clamp(max=14)
    back = blur.draw(sigma, generator)
    scene = torch.multinomial(bank.likely, count, replacement=True, generator=generator)
    light = _exposed(_pieces(bank, scene, side, draws), draws)
    plain = (draws(count) < 0.3).view(count, 1, 1, 1)
    steps = torch.linspace(-1, 1, side, device=light.device)
    slope = draws(count, low=-0.4, high=0.4).view(count, 1, 1, 1) * steps.view(1, 1, -1, 1)
    smooth = light.mean((2, 3), keepdim=True) * (1 + slope) * draws(count, 1, 1, 1, low=0.7, high=2.5)
    light = torch.where(plain, smooth.expand_as(light).clamp(max=1.2), light)
    return _blurred(light, back.transfer(side)), back


def _mask(count: int, side: int, draws: Draws, generator: torch.Generator) -> Tensor:
    """Outlines of subjects: lumps that join (a body, a head, a wing), or a few twigs; 1 inside."""
    device = draws.device
    steps = torch.arange(side, device=device, dtype=torch.float32)
    centre = draws(count, 2, low=0.2, high=0.8) * side
    size = side * torch.exp(draws(count, low=math.log(0.06), high=math.log(0.5)))
    inside = torch.zeros(count, side, side, device=device)
    for lump in range(3):
        away = (
            torch.randn(count, 2, generator=generator, device=device) * size[:, None] * (0.8 if lump else 0)
        )
        radius = size * (1.0 if lump == 0 else 1) * draws(count, low=0.3, high=1.0)
        down = steps[None, :, None] - (centre[:, 0] + away[:, 0]).view(-1, 1, 1)
        across = steps[None, None, :] - (centre[:, 1] + away[:, 1]).view(-1, 1, 1)
        turn = draws(count, high=6.28).view(-1, 1, 1)
        along = across * turn.cos() + down * turn.sin()
        beside = (down * turn.cos() - across * turn.sin()) * draws(count, low=1, high=3).view(-1, 1, 1)
        angle = torch.atan2(beside, along)
        ragged = torch.ones_like(angle)
        for waves, depth in ((2, 0.25), (5, 0.15), (13, 0.08), (34, 0.06)):
            phase, strength = draws(count, high=6.28), draws(count, high=depth)
            ragged = ragged + strength.view(-1, 1, 1) * torch.sin(waves * angle + phase.view(-1, 1, 1))
        edge = radius.view(-1, 1, 1) * ragged - (along**2 + beside**2).sqrt()
        inside = torch.maximum(inside, (edge + 0.5).clamp(0, 1))
    lines = torch.zeros_like(inside)
    for _twig in range(4):
        turn, width = draws(count, high=3.14).view(-1, 1, 1), torch.exp(draws(count, high=3.2)).view(-1, 1, 1)
        place = draws(count, 2).view(count, 2, 1, 1) * side
        down, across = steps[None, :, None] - place[:, 0], steps[None, None, :] - place[:, 1]
        bent = draws(count, low=-0.3, high=0.3).view(-1, 1, 1) / side
        along = across * turn.cos() + down * turn.sin()
        beside = down * turn.cos() - across * turn.sin() + bent * along**2
        lines = torch.maximum(lines, (width - beside.abs() + 0.5).clamp(0, 1))
    twiggy = (draws(count) < 0.25).view(-1, 1, 1)
    return torch.where(twiggy, lines, inside)[:, None]


def _cropped(
    luma: Tensor, share: Tensor, side_px: int, by: camera.Camera, chance: torch.Generator, margin: int
) -> tuple[Tensor, Tensor]:
    """Through JPEG, then any place of its blocks of 8 px; the subject's share alongside."""
    if by.scale != 1:
        share = nnf.interpolate(share, size=luma.shape[2:], mode="bilinear", antialias=True)
    off = round(margin * by.scale)
    room = luma.shape[-1] - 2 * off
    top, left = (off + int(torch.randint(8, (), generator=chance)) for _axis in range(2))
    padded = (min(side_px + 8, room)) // 8 * 8
    piece = coding.as_jpeg(luma[..., top : top + padded, left : left + padded], by.quality)
    down, across = (int(torch.randint(padded - side_px + 1, (), generator=chance)) for _axis in range(2))
    share = share[..., top : top + padded, left : left + padded]
    return (
        piece[..., down : down + side_px, across : across + side_px],
        share[..., down : down + side_px, across : across + side_px],
    )
