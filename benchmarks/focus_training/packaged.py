"""The network as it comes with the auditor, to go on training from where no checkpoint is left.

Its batch norms were fused into the convolutions before them. Here each gets back the mean and the deviation
that frames have at its place, and passes on what it passed on before: at first nothing changes.
"""

from __future__ import annotations

from importlib import resources

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import Tensor, nn

from auditor.focus.network import HEAD, trunk_file
from benchmarks.focus_training.network import Network


def network(luma: Tensor) -> Network:
    """With batch norms that suit these frames, (pictures, 1, side, side), 0 to 1."""
    made = Network()
    _fill(made)
    made = made.to(luma.device)
    _norms_from(made, luma)
    return made


def _fill(made: Network) -> None:
    stored = onnx.load_from_string(trunk_file()).graph.initializer
    given = {one.name: torch.tensor(numpy_helper.to_array(one)) for one in stored}
    parts = dict(made.trunk.named_modules())
    with torch.no_grad():
        for norm in _norms(made):
            norm.weight.fill_((1 + norm.eps) ** 0.5)
        for name, value in given.items():
            place, _, kind = name.rpartition(".")
            layer = parts[place]
            if kind == "bias" and layer.bias is None:
                layer = parts[_norm_after(place)]
            getattr(layer, kind).copy_(value)
    # Of the trunk all is there but the norms' weights, means and deviations.
    missing = {name for name, _value in made.trunk.named_parameters()} - set(given)
    norms = {name for name, part in parts.items() if isinstance(part, nn.BatchNorm2d)}
    if any(name.rpartition(".")[0] not in norms for name in missing):
        raise SystemExit(f"the packaged trunk lacks {sorted(missing)}")
    with (resources.files("auditor.focus") / HEAD).open("rb") as file, np.load(file) as head:
        made.head.load_state_dict({name: torch.tensor(head[name]) for name in head.files if name != "levels"})


def _norm_after(convolution: str) -> str:
    """Name of the norm that was fused into a convolution."""
    before, _, last = convolution.rpartition(".")
    return f"{before}.norm" if last == "spread" else f"{before}.{int(last) + 1}"


def _norms(made: Network) -> list[nn.BatchNorm2d]:
    return [part for part in made.trunk.modules() if isinstance(part, nn.BatchNorm2d)]


@torch.no_grad()
def _norms_from(made: Network, luma: Tensor) -> None:
    seen: dict[nn.Module, tuple[Tensor, Tensor]] = {}

    def note(norm: nn.Module, given: tuple[Tensor, ...]) -> None:
        seen[norm] = given[0].mean((0, 2, 3)), given[0].var((0, 2, 3))

    hooks = [norm.register_forward_pre_hook(note) for norm in _norms(made)]
    made.eval()
    made.trunk(luma)
    for hook in hooks:
        hook.remove()
    for norm, (mean, variance) in seen.items():
        assert isinstance(norm, nn.BatchNorm2d)
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(variance)
        norm.weight.copy_((variance + norm.eps).sqrt())
        norm.bias.add_(mean)
