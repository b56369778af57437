"""Train the network that reads blur, on your own folder of sharp photographs.

    python benchmarks/train_focus.py FOLDER [--minutes 10] [--from CHECKPOINT] [--out build/focus_network]

Frames are drawn anew all the time (benchmarks/focus_training): scenes, optics and cameras. An accelerator
draws and learns far faster than a CPU; either will do. Photographs are held out to calibrate and to score on
(photograph_roles.py). Writes the network (blur_trunk.onnx, blur_head.npz), a checkpoint to go on from, what
it tells of frames held out (told_*.npz), and its score. Needs the train extra: pip install -e ".[train]".
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import torch

    from benchmarks.focus_training.network import Network

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

SEED = 20260418


def main() -> None:
    import numpy as np
    import torch

    from benchmarks.focus_training import export, learning, scenes, scoring, workers
    from benchmarks.focus_training.network import Network

    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--more", type=Path, help="folder of photographs besides, all to train on")
    arguments.add_argument("--minutes", type=float, default=10)
    arguments.add_argument(
        "--from",
        dest="checkpoint",
        type=Path,
        help="a checkpoint to go on from, or 'packaged': the weights that come with the auditor",
    )
    arguments.add_argument("--out", type=Path, default=PROJECT / "build" / "focus_network")
    arguments.add_argument("--rate", type=float, default=2e-3)
    arguments.add_argument("--seed", type=int, default=SEED)
    arguments.add_argument("--scenes", type=int, default=120, help="drawn ones that a process keeps")
    arguments.add_argument("--held-out-scenes", type=int, default=130)
    arguments.add_argument("--workers", type=int, default=0, help="processes that draw; 0 draws in this one")
    arguments.add_argument("--batch", type=int, default=256, help="frames that a step learns from")
    arguments.add_argument("--of", type=int, default=24, help="frames of one camera")
    arguments.add_argument("--side", type=int, default=320)
    arguments.add_argument("--score-batches", type=int, default=16)
    chosen = arguments.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed)
    torch.backends.cudnn.benchmark = True
    chosen.out.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    network, state = Network().to(device), None
    if str(chosen.checkpoint) == "packaged":
        network = _packaged(chosen.folder, chosen.side, device)
    elif chosen.checkpoint:
        state = torch.load(chosen.checkpoint, map_location=device, weights_only=True)
        network.load_state_dict(state["network"])
    plan = workers.Plan(
        folder=chosen.folder,
        more=chosen.more,
        drawn_scenes=chosen.scenes,
        workers=chosen.workers,
        batch=chosen.batch,
        of=chosen.of,
        side_px=chosen.side,
        seconds=60 * chosen.minutes,
        rate=chosen.rate,
        seed=chosen.seed,
    )
    averaged = learning.learn(network, plan, chosen.out / "checkpoint.pt", state)
    averaged.eval()
    export.write(averaged, chosen.out)
    for role in ("calibrate", "score"):
        held = scenes.bank(
            chosen.folder, role=role, drawn_scenes=chosen.held_out_scenes, seed=0, device=device
        )
        for name, unseen in (("cameras like those trained on", False), ("a family never trained on", True)):
            rows = scoring.told(averaged, held, chosen.score_batches, 448, unseen=unseen)
            np.savez_compressed(
                chosen.out / f"told_{role}_{'unseen' if unseen else 'seen'}.npz",
                kinds=np.array(held.kinds),
                **rows,  # type: ignore[arg-type]
            )
            print(f"\nscenes to {role} on, {name}\n{scoring.shown(rows, held.kinds)}", flush=True)
    print(f"{time.monotonic() - began:.0f} s in all")


def _packaged(folder: Path, side_px: int, device: torch.device) -> Network:
    """The weights that come with the auditor, ready to learn on."""
    import torch

    from benchmarks.focus_training import frames, packaged, scenes

    some = scenes.bank(folder, role="train", drawn_scenes=20, seed=1, device=device)
    generator = torch.Generator(device=device).manual_seed(1)
    drawn = frames.batch(some, 16, 16, side_px, generator, torch.Generator().manual_seed(1))
    return packaged.network(drawn.luma)


if __name__ == "__main__":
    main()
