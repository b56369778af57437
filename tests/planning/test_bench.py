"""The bench, on rendered photographs of a target whose contrast is known."""

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from PIL import Image

from auditor.demo.bench_card import SHOTS, target, write_bench
from auditor.demo.gear import FULL_KITS
from auditor.optics.resolution import Chain, mtf50_per_um
from auditor.planning.bench import Bench, BenchWord, bench, results, summed_up
from auditor.planning.bench_shots import CURVE_CYCLES_PER_PX, BenchKit, Shot, _half_contrast, measure_shot
from auditor.planning.gear import Body, Lens, PlannedKit, with_bench
from auditor.readers import pixels
from auditor.report.bench_target import side_mm, target_svg, write_target
from auditor.report.text.bench import bench_text, curve_row, kit_row
from auditor.store import bench as bench_store
from auditor.store.bench import BenchResult
from auditor.store.logbook import open_logbook


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return write_bench(tmp_path_factory.mktemp("bench") / "card")


@pytest.fixture(scope="module")
def measured(card: list[Path]) -> Bench:
    return bench(card)


def truth_mtf50(sigma_px: float) -> float:
    """Where exp(-2 (pi s u)^2) sinc(u) is a half: the blur of the optics and a pixel (D)."""
    frequencies = np.linspace(0.01, 0.9, 20_000)
    contrast = np.exp(-2 * (np.pi * sigma_px * frequencies) ** 2) * np.sinc(frequencies)
    return float(frequencies[np.argmax(contrast < 0.5)])


def test_each_kit_resolves_what_was_rendered(measured: Bench) -> None:
    assert [len(kit.shots) for kit in measured.kits] == [SHOTS] * 3
    for kit, invented in zip(measured.kits, FULL_KITS, strict=True):
        best = max(shot.mtf50 for shot in kit.shots)
        truth = truth_mtf50(invented.optics_sigma_px)
        assert best == pytest.approx(truth, rel=0.05), "the best of five shots is nearly in focus"
        assert best <= truth * 1.02


def test_units_follow_from_pixels_and_focal_length(measured: Bench) -> None:
    """1 cycle/px of 5.97 um is 167.5 lp/mm, and behind 500 mm 83.75 cycles/mrad (D)."""
    shot = measured.kits[0].shots[0]
    assert shot.line_pairs_per_mm == pytest.approx(shot.mtf50 * 167.5, rel=1e-3)
    assert shot.cycles_per_mrad == pytest.approx(shot.mtf50 * 83.75, rel=1e-3)


def test_converters_are_compared_with_the_bare_lens(measured: Bench) -> None:
    """What the invented optics give on the subject: factor times half contrast, over the bare one."""
    bare = truth_mtf50(FULL_KITS[0].optics_sigma_px)
    for row, invented in zip(measured.comparisons, FULL_KITS[1:], strict=True):
        assert row.gain is not None
        truth = invented.factor * truth_mtf50(invented.optics_sigma_px) / bare - 1
        assert row.gain.low <= truth <= row.gain.high
        assert row.bare.converter_factor == 1


def test_too_few_shots_are_said(card: list[Path]) -> None:
    few = bench(card[:3] + card[SHOTS : SHOTS + 5])
    assert [row.word for row in few.comparisons] == [BenchWord.TOO_FEW_SHOTS]


def test_a_picture_without_an_edge_costs_no_other(card: list[Path], tmp_path: Path) -> None:
    flat = tmp_path / "flat.jpg"
    with Image.open(card[0]) as picture:
        Image.new("RGB", picture.size, (90, 90, 90)).save(flat, exif=picture.getexif())
    answer = bench([*card[:1], flat, tmp_path / "nothing.jpg"])
    assert len(answer.kits) == 1
    assert [Path(path).name for path, _reason in answer.failures] == ["flat.jpg", "nothing.jpg"]
    assert "slanted edge" in answer.failures[0][1]


def test_a_region_can_be_given(card: list[Path]) -> None:
    """The left edge of the square alone: 640 px wide, its side at a quarter of the width."""
    (kit,) = bench(card[:1], (256, 384, 96, 224)).kits
    (shot,) = kit.shots
    assert shot.across_mtf50 is not None
    assert shot.down_mtf50 is None
    assert shot.angle_deg == pytest.approx(5, abs=0.1)


def test_a_region_outside_the_picture_is_named(card: list[Path]) -> None:
    (failure,) = bench(card[:1], (2000, 2200, 100, 300)).failures
    assert failure[1] == "region 100,2000,200,200 reaches outside the picture, which is 640 x 640 px"


def test_a_camera_held_upright_is_turned_before_a_region_is_cut(card: list[Path], tmp_path: Path) -> None:
    """Exif orientation 6: the stored top lies at the right (Exif 2.2, tag 0x0112, S)."""
    upright = tmp_path / "upright.jpg"
    with Image.open(card[0]) as picture:
        exif = picture.getexif()
        exif[0x0112] = 6
        picture.save(upright, quality=95, exif=exif)
    # The left edge of the stored square is the top edge of the upright one.
    ((shot,),) = (kit.shots for kit in bench([upright], (96, 224, 256, 384)).kits)
    assert shot.across_mtf50 is None
    assert shot.down_mtf50 is not None


def test_two_bodies_are_no_pair(card: list[Path], tmp_path: Path) -> None:
    """A converter on one body is not compared with the bare lens on another."""
    other = []
    for number, path in enumerate(card[SHOTS : 2 * SHOTS]):
        copy = tmp_path / f"{number}.jpg"
        with Image.open(path) as picture:
            exif = picture.getexif()
            exif.get_ifd(0x8769)[0xA431] = "9999"
            picture.save(copy, quality=95, exif=exif)
        other.append(copy)
    answer = bench([*card[: 2 * SHOTS : SHOTS], other[0]])
    assert len(answer.kits) == 3, "the same kit on two bodies of one model is two kits"
    answer = bench([*card[:SHOTS], *other])
    assert len({kit.kit.body for kit in answer.kits}) == 2
    assert answer.comparisons == []


def test_shots_out_of_different_kinds_of_files_are_said(measured: Bench) -> None:
    text = " ".join(bench_text(replace(measured, developed_alike=False), 80).split())
    assert "compare shots of one kind only" in text


def test_the_text_holds_at_eighty_columns(measured: Bench) -> None:
    text = bench_text(measured, 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "lp/mm" in text
    assert "-0 %" not in text


def test_a_sharper_lens_gives_a_steeper_edge() -> None:
    soft, crisp = (np.abs(np.diff(target(sigma, 1).astype(int), axis=1)).max() for sigma in (2.0, 0.5))
    assert crisp > 1.5 * soft


def test_the_curve_of_contrast_is_what_was_rendered(measured: Bench) -> None:
    """exp(-2 (pi s u)^2) sinc(u) at 0.1 to 0.5 cycles a pixel (D), of the shot that is nearest to focus."""
    for kit, invented in zip(measured.kits, FULL_KITS, strict=True):
        best = max(kit.shots, key=lambda shot: shot.mtf50)
        at = np.array(CURVE_CYCLES_PER_PX)
        truth = np.exp(-2 * (np.pi * invented.optics_sigma_px * at) ** 2) * np.sinc(at)
        np.testing.assert_allclose(best.contrast, truth, atol=0.04)


def test_refocusing_is_told_apart_from_the_best(measured: Bench) -> None:
    for kit in measured.kits:
        assert kit.repeatability is not None
        assert kit.focus_shift is not None
        assert 0 <= kit.focus_shift < 3 * kit.repeatability


def test_an_edge_at_a_wrong_angle_is_named(card: list[Path], tmp_path: Path) -> None:
    turned = tmp_path / "turned.jpg"
    with Image.open(card[0]) as picture:
        picture.rotate(-20, resample=Image.Resampling.BICUBIC, fillcolor=(188,) * 3).save(
            turned, quality=95, exif=picture.getexif()
        )
    (failure,) = bench([turned]).failures
    assert "2 to 12 degrees off upright or level" in failure[1]
    assert "its strongest edge is 25 degrees off" in failure[1], "5 degrees as drawn, and 20"
    # The middle of the square's left edge, turned with it, lies at row 252 and column 175.
    shots = [shot for kit in bench([turned], (188, 316, 111, 239)).kits for shot in kit.shots]
    assert [shot.warnings for shot in shots] == [("angled",)]


def test_the_target_to_print(tmp_path: Path) -> None:
    assert "rotate(5 " in target_svg(15)
    assert side_mm(30) >= side_mm(5)
    with pytest.raises(ValueError, match="distance_m"):
        side_mm(0)
    write_target(tmp_path / "target.pdf", 15)
    data = (tmp_path / "target.pdf").read_bytes()
    assert data.startswith(b"%PDF")
    # ISO 32000-1, 7.5.4 (S): an entry a object, 20 bytes each, that tells where it begins.
    table = data.index(b"\nxref\n") + 1
    assert int(data.split(b"startxref\n")[1].split()[0]) == table
    starts = re.findall(rb"(\d{10}) 00000 n \n", data[table:])
    assert len(starts) == 5
    for number, start in enumerate(starts, 1):
        assert data[int(start) :].startswith(f"{number} 0 obj".encode())
    stream = re.search(rb"/Length (\d+) >>\nstream\n(.*)\nendstream", data, re.DOTALL)
    assert stream is not None
    length, content = stream.groups()
    assert len(content) == int(length)
    # A4 in points of 1/72 inch, and the square that the SVG has (D).
    assert b"/MediaBox [0 0 595.276 841.890]" in data
    assert b"-18 -18 36 36 re f" in content
    assert 'width="36" height="36"' in target_svg(15)
    write_target(tmp_path / "target.svg", 15)
    for name, said in (("target.svg", "exists"), ("target.doc", ".svg or .pdf")):
        with pytest.raises(Exception, match=said):
            write_target(tmp_path / name, 15)


def test_what_a_bench_kept_is_what_planning_works_with(measured: Bench, tmp_path: Path) -> None:
    """The blur that was rendered, of lens and converters, comes out of the logbook again."""
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        with book.writing():
            bench_store.keep(book, results(measured))
            bench_store.keep(book, results(measured))
        kept = bench_store.newest(book)
    assert len(kept) == 3, "the newest of each kit"
    invented = FULL_KITS[0].lens
    lens = Lens(name=invented.name, focal_length_mm=500, widest_f_number=5.6)
    body = Body(key=("", "F2", "1"), pixel_pitch_um=5.97, sensor_diagonal_mm=43.27, width_mm=36.0)
    bare, large = with_bench(
        [PlannedKit(body=body, lens=lens), PlannedKit(body=body, lens=lens, converter_factor=2.0)], kept
    )
    # Diffraction was not rendered, so the lens stands for it too: its blur comes out smaller.
    assert bare.lens.sigma_um is not None
    assert 0 <= bare.lens.sigma_um <= invented.sigma_um * 1.1
    assert large.converter_sigma_um is not None
    untouched = PlannedKit(body=body, lens=Lens(name="another", focal_length_mm=300, widest_f_number=4.0))
    assert with_bench([untouched], kept) == [untouched]


def shots_of(factor: float, mtf50s: tuple[float, ...]) -> list[Shot]:
    """Shots of one lens, bare or behind a converter, by their half contrast in cycles per px."""
    kit = BenchKit(
        name="", body=("", "F2", "1"), lens_name="500mm f/4", converter_factor=factor,
        focal_length_mm=500.0 * factor, f_number=4.0 * factor, pixel_pitch_um=5.97,
    )  # fmt: skip
    return [
        Shot(
            path=f"{number}.jpg", kit=kit, across_mtf50=mtf50, down_mtf50=None, mtf10=None,
            contrast=(0.5,) * len(CURVE_CYCLES_PER_PX), angle_deg=5.0, noise_share=0.01, developed="jpeg",
            warnings=(),
        )
        for number, mtf50 in enumerate(mtf50s)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("behind", "word"),
    [
        ((0.100, 0.101, 0.102, 0.103, 0.104), BenchWord.RESOLVES_LESS),  # 0.104 x 1000 < 0.3 x 500
        ((0.148, 0.150, 0.151, 0.149, 0.152), BenchWord.NO_DIFFERENCE),
        ((0.180, 0.181, 0.182, 0.183, 0.184), BenchWord.RESOLVES_MORE),
    ],
)
def test_a_converter_that_shows_less_than_a_crop_is_called_so(
    behind: tuple[float, ...], word: BenchWord
) -> None:
    """On the subject a frequency counts by the focal length: half behind a 2x is as fine (D)."""
    bare = shots_of(1.0, (0.298, 0.300, 0.301, 0.299, 0.302))
    (row,) = summed_up([*bare, *shots_of(2.0, behind)]).comparisons
    assert row.word is word


@pytest.mark.parametrize("own_um", [1.0, 4.0, 9.0])
def test_the_converters_own_blur_comes_out_of_its_contrast(own_um: float) -> None:
    """Half contrast of a known chain, on the subject, gives lens and converter again; `system_mtf`, by which
    it was worked out, is held against GalSim."""
    factor, pitch_um, f_number, lens_um = 2.0, 4.0, 4.0, 2.5
    kept = []
    for converter in (1.0, factor):
        chain = Chain(
            f_number=f_number, lens_sigma_um=lens_um, pixel_pitch_um=pitch_um, converter_factor=converter,
            converter_sigma_um=own_um if converter > 1 else 0.0,
        )  # fmt: skip
        kept.append(
            BenchResult(
                body_make="", body_model="F2", body_serial="1", lens_name="500mm f/4", shots=5,
                converter_factor=converter, focal_length_mm=500 * converter, f_number=f_number * converter,
                pixel_pitch_um=pitch_um, cycles_per_mrad=mtf50_per_um(chain) * 500, repeatability=0.01,
            )
        )  # fmt: skip
    body = Body(key=("", "F2", "1"), pixel_pitch_um=pitch_um, sensor_diagonal_mm=43.27, width_mm=36.0)
    lens = Lens(name="500mm f/4", focal_length_mm=500, widest_f_number=f_number)
    (kit,) = with_bench([PlannedKit(body=body, lens=lens, converter_factor=factor)], kept)
    assert kit.lens.sigma_um == pytest.approx(lens_um, rel=1e-6)
    assert kit.converter_sigma_um == pytest.approx(own_um, rel=1e-6)


def test_frequencies_of_a_smaller_preview_are_those_of_the_sensor(
    card: list[Path], measured: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every second pixel of every second row: half as many pixels of the same contrast, which a slanted edge
    tells beyond what they sample (ISO 12233)."""

    def smaller(*given: Any, **facts: Any) -> pixels.Pixels:
        whole = decode(*given, **facts)
        return replace(whole, luma=np.ascontiguousarray(whole.luma[::2, ::2]))

    decode = pixels.decode
    monkeypatch.setattr(pixels, "decode", smaller)
    shot = measure_shot(card[0])
    assert shot.mtf50 == pytest.approx(measured.kits[0].shots[0].mtf50, rel=0.05)
    assert shot.contrast == pytest.approx(measured.kits[0].shots[0].contrast, abs=0.05)


def test_the_curve_is_that_of_the_best_shot() -> None:
    """As the note below the table says it."""
    (kit,) = summed_up(shots_of(1.0, (0.21, 0.30, 0.25))).kits
    assert curve_row(kit)[1] == "0.300"
    assert kit_row(kit)[2] == "0.300"


def test_an_edge_of_something_else_in_the_picture_counts_for_nothing() -> None:
    """The target is what is sharpest: edges half as sharp are of a table or a wall."""
    edges = [
        SimpleNamespace(response=SimpleNamespace(mtf50=mtf50, follows="columns"))
        for mtf50 in (0.30, 0.28, 0.1, 0.1, 0.1)
    ]
    assert _half_contrast(cast(Any, edges), "columns", 1.0) == pytest.approx(0.29)
    assert _half_contrast(cast(Any, edges), "rows", 1.0) is None


def test_the_printed_target_has_the_size_that_it_states(tmp_path: Path) -> None:
    """A4 is 210 x 297 mm (ISO 216), 595.28 x 841.89 points of 1/72 inch (PDF's unit, ISO 32000)."""
    write_target(tmp_path / "target.pdf", 15)
    found = re.search(rb"/MediaBox\s*\[([^\]]*)\]", (tmp_path / "target.pdf").read_bytes())
    assert found is not None
    assert [float(part) for part in found[1].split()] == pytest.approx([0, 0, 595.28, 841.89], abs=0.5)
    assert 'width="210mm" height="297mm"' in target_svg(15)
    assert "h100" in target_svg(15), "a line to lay a ruler to"


def test_kits_are_called_by_their_short_names(measured: Bench) -> None:
    assert [kit.kit.name for kit in measured.kits] == ["F2 500 mm", "F2 500 mm x 1.4", "F2 500 mm x 2"]
