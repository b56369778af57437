"""The animal is read, not the focus area's box: frames composed of drawings and of held-out photographs."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.focus import subject
from auditor.focus.frame_measurement import FrameMeasurement, measure_frame
from auditor.focus.network import Tiles
from auditor.focus.sharpness import SOFT_FROM_PX, over
from tests.beside import needs_photographs
from tests.focus import composed
from tests.focus.composed import COLUMNS, MIDDLE, ROWS, Floats

Frame = NDArray[np.uint8]
SHARP_PX, SOFT_PX = 0.5, 4.0
COATS = (
    "fur",
    "leaves",
    *(pytest.param(f"photograph {number}", marks=needs_photographs) for number in (3, 12, 20)),
)
WHERE = {
    # row and column from the animal's middle, and the area's side, all in shares of the animal's size
    "on it": (0.0, 0.0, 0.25),
    "on its edge": (-0.24, 0.0, 0.25),
    "beside it": (0.45, 0.0, 0.25),
    "much larger than it": (0.0, 0.0, 2.5),
}


@cache
def coat(name: str) -> Floats:
    if name == "fur":
        return composed.fur(4)
    if name == "leaves":
        return 0.6 * composed.leaves(5) + 40
    return composed.photograph(int(name.split()[1]))


@lru_cache(maxsize=6)
def background(behind: str | float, behind_px: float) -> Floats:
    """Drawn once for all frames that have it: it takes ten times as long as measuring one."""
    if isinstance(behind, float):
        return composed.background(behind, behind_px)
    return composed.background(
        composed.leaves(8) if behind == "busy" else composed.filling(coat(behind)), behind_px
    )


@lru_cache(maxsize=32)
def scene(
    name: str,
    sigma_px: float,
    *,
    size_px: int = 420,
    behind: str | float = "busy",
    behind_px: float = 8.0,
    twigs_px: float | None = None,
    light: tuple[float, float] = (0.0, 1.0),
) -> Frame:
    """A frame of an animal with a coat, `light` its level and contrast; the same is measured in many ways."""
    level, contrast = light
    return composed.scene(
        level + contrast * coat(name),
        sigma_px,
        background(behind, behind_px),
        size_px=size_px,
        twigs_px=twigs_px,
    )


def measured(of: Frame, where: str = "on it", size_px: int = 420) -> FrameMeasurement:
    down, across, side = WHERE[where]
    area = (
        (MIDDLE[1] + across * size_px) / COLUMNS,
        (MIDDLE[0] + down * size_px) / ROWS,
        side * size_px / COLUMNS,
        side * size_px / ROWS,
    )
    return measure_frame(of, [area], iso=400)


def told(found: FrameMeasurement) -> str:
    """As a verdict, at the limit of a full frame of 24 megapixels."""
    if found.kind == "elsewhere":
        return "miss"
    quantiles_px = found.reading.quantiles_px
    missed = over(quantiles_px, SOFT_FROM_PX) if quantiles_px else None
    return {True: "miss", False: "hit", None: "unclear"}[missed]


@pytest.mark.parametrize("name", COATS)
@pytest.mark.parametrize("where", WHERE)
def test_a_sharp_animal_is_never_a_firm_miss(name: str, where: str) -> None:
    size_px = 200 if where == "much larger than it" else 420
    found = measured(scene(name, SHARP_PX, size_px=size_px), where, size_px)
    assert told(found) in ({"hit", "unclear"} if where == "beside it" else {"hit"})


@pytest.mark.parametrize("name", COATS)
@pytest.mark.parametrize("where", WHERE)
def test_a_soft_animal_is_no_hit(name: str, where: str) -> None:
    found = measured(scene(name, SOFT_PX, behind_px=12), where)
    assert told(found) == "miss"


@pytest.mark.parametrize("name", COATS)
def test_an_area_that_touches_nothing_is_named(name: str) -> None:
    found = measured(scene(name, SHARP_PX), "beside it")
    assert found.kind == "sharp" or "area_mostly_background" in found.flags


@pytest.mark.parametrize("name", COATS)
def test_busy_leaves_behind_do_not_count(name: str) -> None:
    assert told(measured(scene(name, SHARP_PX, behind_px=2.5))) == "hit"
    assert told(measured(scene(name, 3.0, behind_px=4.5))) == "miss"


@pytest.mark.parametrize("name", COATS)
def test_twigs_before_a_sharp_animal_do_not_count_and_those_before_a_soft_one_make_no_hit(name: str) -> None:
    assert told(measured(scene(name, SHARP_PX, twigs_px=6))) == "hit"
    assert told(measured(scene(name, SHARP_PX, twigs_px=0.6))) == "hit"
    assert told(measured(scene(name, SOFT_PX, twigs_px=0.6))) != "hit"


@pytest.mark.parametrize("name", COATS)
@pytest.mark.parametrize(
    ("light", "sky"),
    [((8.0, 0.15), 220.0), ((125.0, 0.08), 150.0), ((20.0, 0.3), 245.0)],
    ids=["dark on sky", "grey on fog", "backlight"],
)
def test_pale_and_dark_animals_before_plain_light(name: str, light: tuple[float, float], sky: float) -> None:
    assert told(measured(scene(name, SHARP_PX, behind=sky, light=light))) != "miss"
    assert told(measured(scene(name, SOFT_PX, behind=sky, light=light))) != "hit"


@pytest.mark.parametrize("name", COATS)
def test_a_soft_animal_before_what_is_in_focus_is_no_hit(name: str) -> None:
    found = measured(scene(name, SOFT_PX, behind_px=0.5))
    assert told(found) != "hit"
    assert set(found.flags) & {"sharper_around", "sharp_beside_area", "area_mostly_background"}


@pytest.mark.parametrize("behind", ["busy", "leaves"])
def test_a_small_soft_animal_before_what_is_in_focus_is_no_hit(behind: str) -> None:
    """Its outlines are too faint for edges, and what is in focus hides it from the map of tiles."""
    of = scene("fur", 4.5, size_px=260, behind=behind, behind_px=0.5)
    found = measured(of, size_px=260)
    assert told(found) == "unclear"
    assert "sharp_beside_area" in found.flags


@pytest.mark.parametrize(
    ("name", "light", "behind", "size_px"),
    [
        ("fur", (140.0, 0.15), "busy", 260),
        ("leaves", (100.0, 0.3), "leaves", 340),
        pytest.param("photograph 12", (140.0, 0.15), "leaves", 340, marks=needs_photographs),
        pytest.param("photograph 20", (140.0, 0.15), "busy", 260, marks=needs_photographs),
    ],
)
def test_a_soft_animal_of_little_contrast_before_what_is_in_focus_is_no_hit(
    name: str, light: tuple[float, float], behind: str, size_px: int
) -> None:
    """Focus on the background: the animal pales beside it, and the region alone reads as sharp."""

    def of(sigma_px: float) -> str:
        frame = scene(name, sigma_px, size_px=size_px, behind=behind, behind_px=0.6, light=light)
        return told(measured(frame, size_px=size_px))

    assert of(4.5) != "hit"
    assert of(SHARP_PX) == "hit"


def test_of_one_thing_or_another_the_chance_lies_between() -> None:
    """An area on the background beside a sharp animal: neither surely a hit nor surely a miss."""
    found = measured(scene("fur", SHARP_PX), "beside it")
    assert "area_mostly_background" in found.flags
    low, high = found.reading.low, found.reading.high
    assert low is not None
    assert high is not None
    assert low < 1.2 < high


def tiles(rows: list[str]) -> Tiles:
    """A map: `s` sharp, `m` surely soft, `b` more blurred still, `u` plain, which tells nothing."""
    sigma = {"s": 0.5, "m": 2.0, "b": 8.0, "u": 2.0}
    spread = {"s": 0.5, "m": 0.2, "b": 0.2, "u": 1.5}
    return Tiles(
        features=np.zeros((len(rows), len(rows[0]), 1), np.float32),
        log2_sigma=np.log2([[sigma[tile] for tile in row] for row in rows]).astype(np.float32),
        log_spread=np.log([[spread[tile] for tile in row] for row in rows]).astype(np.float32),
    )


def area(shape: tuple[int, int], row: int, column: int) -> subject.Mask:
    return subject.area_tiles(shape, row - 3, row + 3, column - 3, column + 3)


BLOB = ["b" * 20] * 6 + ["b" * 6 + "s" * 8 + "b" * 6] * 8 + ["b" * 20] * 6
RING = ["u" * 20] * 5 + ["u" * 5 + "s" * 10 + "u" * 5] + ["u" * 5 + "s" + "u" * 8 + "s" + "u" * 5] * 8
RING = [*RING, "u" * 5 + "s" * 10 + "u" * 5, *["u" * 20] * 5]
TWIG = ["b" * 20] * 9 + ["s" * 20] * 2 + ["b" * 20] * 9
SPECKS = [
    ("s" if row % 6 == 2 else "b") + "b" * 9 + ("s" if row % 6 == 5 else "b") + "b" * 9 for row in range(20)
]
HOLE = [row.translate(str.maketrans("sb", "bs")) for row in BLOB]


@pytest.mark.parametrize(
    ("rows", "place", "how"),
    [
        (BLOB, (10, 10), "touched"),
        (BLOB, (3, 10), "touched"),  # across its edge
        (BLOB, (2, 2), "beside"),
        (RING, (10, 10), "touched"),  # a plain animal shows by its outline
        (TWIG, (10, 10), "thin"),
        (HOLE, (10, 10), "enclosed"),
        (["b" * 20] * 20, (10, 10), "all"),
        (SPECKS, (10, 10), "all"),  # single tiles, none of which touches another
    ],
)
def test_what_the_area_touches(rows: list[str], place: tuple[int, int], how: str) -> None:
    found = subject.find(tiles(rows), area((20, 20), *place), 1.2)
    assert found.how == how
    if how == "touched":
        assert found.tiles.sum() == sum(row.count("s") for row in rows)


def test_the_rectangle_around_tiles_stays_inside() -> None:
    mask = np.zeros((6, 8), bool)
    mask[1, 1] = mask[3, 4] = True
    around = subject.around(mask)
    assert around[:6, :7].all()
    assert not around[:, 7:].any()


@pytest.mark.parametrize(("soft_px", "apart"), [(1.3, False), (1.5, True)])
def test_layers_are_those_that_differ_by_half_a_doubling(soft_px: float, apart: bool) -> None:
    """1.4 times as blurred."""
    log2_sigma = np.log2(np.where(np.arange(100) < 40, 1.0, soft_px)).reshape(10, 10)
    sharper = subject.layer(log2_sigma)
    assert (sharper is not None) == apart
    if sharper is not None:
        assert sharper.sum() == 40


@pytest.mark.parametrize(("off", "sure"), [(0.9, True), (1.1, False)])
def test_a_tile_is_surely_soft_from_two_spreads_over_the_limit_on(off: float, sure: bool) -> None:
    """Four times the limit is two doublings."""
    one = Tiles(np.zeros((1, 1, 1), np.float32), np.full((1, 1), np.log2(4.8)), np.full((1, 1), np.log(off)))
    assert subject.surely_soft(one, 1.2)[0, 0] == sure


DIAGONAL = ["b" * row + "s" + "b" * (19 - row) for row in range(20)]
SOFT_BESIDE_SHARP = ["b" * 20] * 5 + ["b" * 3 + "m" * 8 + "s" * 6 + "b" * 3] * 10 + ["b" * 20] * 5
TWIG_BEFORE_SOFT = ["b" * 20] * 5 + [
    ("b" * 5 + ("s" if row == 5 else "m") * 10 + "b" * 5) for row in range(10)
]
TWIG_BEFORE_SOFT = [*TWIG_BEFORE_SOFT, *["b" * 20] * 5]


@pytest.mark.parametrize(
    ("rows", "where", "how", "read"),
    [
        (DIAGONAL, (8, 12, 8, 12), "thin", "s"),  # its tiles meet at corners alone
        (SOFT_BESIDE_SHARP, (7, 12, 4, 7), "joined", "s"),  # soft, and goes over into what is sharp
        (SOFT_BESIDE_SHARP, (7, 12, 8, 11), "touched", "ms"),  # up to what is sharp: not surely beside it
        (SOFT_BESIDE_SHARP, (7, 12, 12, 15), "touched", "ms"),
        (TWIG_BEFORE_SOFT, (5, 9, 8, 12), "touched", "m"),  # what the twig is before, without the twig
    ],
)
def test_what_is_read_of_what_the_area_touches(
    rows: list[str], where: tuple[int, int, int, int], how: str, read: str
) -> None:
    found = subject.find(tiles(rows), subject.area_tiles((20, 20), *where), 1.2)
    assert found.how == how
    told = np.array([list(row) for row in rows])[found.tiles]
    assert sorted(set(told.tolist())) == sorted(read)


@pytest.mark.parametrize(
    ("width", "length", "thin"),
    [
        (1, 4, False),
        (1, 5, True),
        (3, 12, False),
        (3, 13, True),
        (4, 20, True),
        (5, 60, False),  # as wide as an animal, however long
    ],
)
def test_what_is_thin_is_under_five_tiles_wide_and_four_times_as_long(
    width: int, length: int, thin: bool
) -> None:
    mask = np.zeros((9, 70), bool)
    mask[2 : 2 + width, 3 : 3 + length] = True
    assert subject.is_thin(mask) == thin
    assert subject.is_thin(mask.T) == thin


@pytest.mark.parametrize(("columns", "all_around"), [((5, 15), True), ((0, 12), False)])
def test_what_is_all_around_leaves_less_than_half_of_the_border(
    columns: tuple[int, int], all_around: bool
) -> None:
    """A gap of ten columns from top to bottom is 20 of 76 tiles; one at the side of twelve, 42."""
    soft = np.zeros((20, 20), bool)
    soft[:, columns[0] : columns[1]] = True
    assert subject.enclosed(soft, area((20, 20), 10, 10)) == all_around
