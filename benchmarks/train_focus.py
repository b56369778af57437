"""Train the learned focus reading anew on a folder of sharp photographs.

    python benchmarks/train_focus.py FOLDER [--frames 36]

Shoots simulated frames (focus_frames.py) unless they are there, reads the numbers of
auditor/focus/features.py from them, and fits boosted trees on three quarters of the scenes. The interval is
widened until it holds nine times in ten on scenes left out in turn. The last quarter of the scenes is left to
benchmarks/focus.py. Writes auditor/focus/learned.npz and learned_provenance.json. Needs the train extra:
pip install -e ".[train]".
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

os.environ.setdefault("OMP_NUM_THREADS", "1")  # threads that wait for a shared core take ten times as long
PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.features import NAMES, features  # noqa: E402  # the folder above is not a package's
from auditor.focus.luminance import cut  # noqa: E402
from auditor.focus.noise import noise_level  # noqa: E402
from auditor.focus.statistics_of_edges import levels  # noqa: E402
from benchmarks import focus_frames  # noqa: E402

OUT = PROJECT / "auditor" / "focus"
ROWS = PROJECT / "build" / "focus_rows.npz"
LEARNED_FROM_PX = 0.25
COVERED = 0.9
FALL_WITHOUT_NOISE = ("band_floor", "spectrum")
"""Features that are as low as can be in a picture without noise."""
TURNS = 3
"""Scenes are left out in so many turns to widen the interval."""


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--frames", type=int, default=36, help="frames of each scene")
    chosen = arguments.parse_args()
    focus_frames.shoot_all(chosen.folder, chosen.frames)
    rows = focus_frames.rows(numbers, chosen.frames)
    np.savez(ROWS, **rows)  # type: ignore[arg-type]
    train(rows, chosen.folder)


def numbers(frame: focus_frames.Frame) -> dict[str, Any]:
    luma = cut(frame.luma(), None)
    return {"features": features(luma, levels(luma), noise_level(luma)), "side_px": min(luma.shape)}


def train(frames: dict[str, NDArray[Any]], folder: Path) -> None:
    """Fit, widen, and write the weights with where they come from."""
    learn = {name: values[~frames["held_out"]] for name, values in frames.items()}
    rows, truth = learn["features"], np.log(np.maximum(learn["sigma_px"], LEARNED_FROM_PX))
    everywhere = np.ones(len(truth), np.bool_)
    fitted = {name: _fit(name, learn, everywhere) for name in ("middle", "low", "high", "motion")}
    low, middle, high = np.zeros((3, len(truth)))
    turn = np.unique(learn["number"], return_inverse=True)[1] % TURNS
    for this in range(TURNS):
        left_out = turn == this
        for name, told in (("low", low), ("middle", middle), ("high", high)):
            told[left_out] = _fit(name, learn, ~left_out).predict(rows[left_out])
    tail = (1 + COVERED) / 2
    widen = [
        float(max(0.0, np.quantile(np.minimum(low, middle) - truth, tail))),
        float(max(0.0, np.quantile(truth - np.maximum(high, middle), tail))),
    ]
    lowest = np.nanmin(rows, axis=0)
    # A picture must not be unlike all others for being clean.
    lowest[[name.startswith(FALL_WITHOUT_NOISE) for name in NAMES]] = -np.inf
    stored: dict[str, NDArray[Any]] = {
        "ranges": np.array([lowest, np.nanmax(rows, axis=0)]),
        "widen": np.array(widen),
    }
    for name, model in fitted.items():
        stored |= {f"{name}_{part}": values for part, values in as_arrays(model).items()}
    np.savez_compressed(OUT / "learned.npz", **stored)  # type: ignore[arg-type]
    _write_provenance(frames, folder, widen)


def _fit(name: str, learn: dict[str, NDArray[Any]], on: NDArray[np.bool_]) -> Any:
    """One model: blur in the middle, a low and a high bound of it, or whether it is motion."""
    from sklearn.ensemble import HistGradientBoostingClassifier, HistGradientBoostingRegressor

    options = {
        "max_iter": 400,
        "learning_rate": 0.05,
        "max_leaf_nodes": 16,
        "min_samples_leaf": 25,
        "l2_regularization": 2.0,
        "max_features": 0.3,
        "early_stopping": False,
        "random_state": 1,
    }
    rows, sigma_px = learn["features"], learn["sigma_px"]
    if name == "motion":
        moved = np.isin(learn["kind"], ("motion", "mixed"))
        told = on & (sigma_px > 1.0)
        return HistGradientBoostingClassifier(**{**options, "max_iter": 200}).fit(rows[told], moved[told])
    losses: dict[str, dict[str, Any]] = {
        "middle": {"loss": "squared_error"},
        "low": {"loss": "quantile", "quantile": 0.06},
        "high": {"loss": "quantile", "quantile": 0.94},
    }
    # Blur near the criterion decides: it weighs more.
    weight = np.where((sigma_px > 0.6) & (sigma_px < 2.5), 2.0, 1.0)
    truth = np.log(np.maximum(sigma_px, LEARNED_FROM_PX))
    model = HistGradientBoostingRegressor(**losses[name], **options)
    return model.fit(rows[on], truth[on], sample_weight=weight[on])


def as_arrays(model: Any) -> dict[str, NDArray[Any]]:
    """The trees of a fitted model as plain arrays; see auditor/focus/learned.py."""
    parts: dict[str, list[NDArray[Any]]] = {}
    roots, nodes_before = [], 0
    for (tree,) in model._predictors:  # no public way to the trees of scikit-learn's boosting
        nodes = tree.nodes
        here = np.arange(len(nodes)) + nodes_before
        leaf = nodes["is_leaf"].astype(bool)
        for name, values in (
            ("feature", np.where(leaf, 0, nodes["feature_idx"]).astype(np.int16)),
            ("threshold", np.where(leaf, 0, nodes["num_threshold"]).astype(np.float32)),
            ("left", np.where(leaf, here, nodes["left"] + nodes_before).astype(np.int32)),
            ("right", np.where(leaf, here, nodes["right"] + nodes_before).astype(np.int32)),
            ("missing_left", nodes["missing_go_to_left"].astype(np.bool_)),
            ("value", nodes["value"].astype(np.float32)),
        ):
            parts.setdefault(name, []).append(values)
        roots.append(nodes_before)
        nodes_before += len(nodes)
    start = np.ravel(model._baseline_prediction)[0]
    return {name: np.concatenate(values) for name, values in parts.items()} | {
        "roots": np.array(roots, np.int32),
        "start": np.array(start),
    }


def _write_provenance(frames: dict[str, NDArray[Any]], folder: Path, widen: list[float]) -> None:
    learn = ~frames["held_out"]
    document = {
        "trained_at": datetime.now(UTC).strftime("%Y-%m-%d"),
        "script": "benchmarks/train_focus.py",
        "seed": focus_frames.SEED,
        "photographs": {
            "folder": folder.name,
            "set": "Cloudinary Image Dataset 2022 (CID22), reference pictures",
            "licence": "CC BY-SA 4.0",
            "scaled": "to 0.6 to 0.8 of their size",
        },
        "others": [
            "pictures that scikit-image and scikit-learn carry, about half size; licences in those packages",
            f"{focus_frames.RENDERED} rendered scenes (focus_scenes.py)",
        ],
        "scenes_learned_from": len(np.unique(frames["scene"][learn])),
        "scenes_held_out": len(np.unique(frames["scene"][~learn])),
        "frames_learned_from": int(learn.sum()),
        "cameras_learned_from": "drawn by chance for each frame (focus_simulator.camera)",
        "interval_widened_by_log": widen,
        "features": list(NAMES),
        "versions": {
            name: version(name) for name in ("numpy", "scikit-learn", "scikit-image", "scipy", "pillow")
        },
    }
    (OUT / "learned_provenance.json").write_text(json.dumps(document, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
