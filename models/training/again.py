"""Goes on from an exported model instead of from nothing: reads its nets back, makes them larger if the settings say
so, and gives them their normalisations; and averages the weights of a model with those of the same trained further.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from models.training.kaldi import Array, expanded, token
from models.training.net import DILATIONS, FEATURES, Net

SMALLEST_DEVIATION = 1e-3
NEW_CHANNEL = 0.5
"""How far a new channel's weights spread around those of the old one that it is drawn after, in parts of them."""

NEW_BLOCK = 0.03
"""How far a new block's weights spread, in parts of those of the last old one."""

OFFSETS = {"first": 5, "slower": 5, "out": 1}
"""At how many moments a layer hears its inputs; a block at three."""


Shape = dict[str, int]
"""The arguments of `Net`: phones, width, blocks."""


@dataclass(frozen=True, slots=True)
class Affine:
    """One layer of an exported net: `weights` (out, offsets x in), `bias` (out)."""

    weights: Array
    bias: Array


def net_file(model: Path, name: str) -> Path:
    """Where a model keeps the net of this name: in a folder of that name, or, its first net, in its own."""
    own = model / name
    return (own if own.is_dir() else model) / "am" / "final.mdl"


def read_layers(file: Path) -> dict[str, Affine]:
    """The layers of an exported net by name.

    Raises:
        ValueError: the file is not one that `models.training.export` wrote.
    """
    content = file.read_bytes()
    at = content.find(token("<ComponentName>"))
    if at < 0:
        raise ValueError(f"{file}: no net in it; give the folder of a model that models.training exported")
    return dict(_affines(content[at:], file))


def _affines(content: bytes, file: Path) -> Iterator[tuple[str, Affine]]:
    for part in content.split(token("<ComponentName>"))[1:]:
        name, kind, rest = part.split(b" ", 2)
        if kind != b"<FixedAffineComponent>":
            continue
        weights, rest = _matrix(rest.removeprefix(token("<LinearParams>")), file)
        bias, _ = _vector(rest.removeprefix(token("<BiasParams>")), file)
        yield name.decode(), Affine(weights, bias)


def _matrix(content: bytes, file: Path) -> tuple[Array, bytes]:
    form, content = content[:3], content[3:]
    if form == token("CM"):
        return expanded(content)
    if form != token("FM"):
        raise ValueError(f"{file}: a table begins with {form!r} instead of FM or CM")
    rows, columns = struct.unpack("<xixi", content[:10])
    end = 10 + 4 * rows * columns
    return np.frombuffer(content[10:end], "<f4").reshape(rows, columns).astype(np.float64), content[end:]


def _vector(content: bytes, file: Path) -> tuple[Array, bytes]:
    if content[:3] != token("FV"):
        raise ValueError(f"{file}: a list begins with {content[:3]!r} instead of FV")
    (size,) = struct.unpack("<xi", content[3:8])
    end = 8 + 4 * size
    return np.frombuffer(content[8:end], "<f4").astype(np.float64), content[end:]


class Begun:
    """The nets to go on from: a draft of a training, or the folder of an exported model."""

    def __init__(self, folder: Path, shapes: Mapping[str, Shape]) -> None:
        """Reads the nets of these names, to be trained further in these shapes.

        Raises:
            ValueError, OSError: neither is there, or it is there in a shape that cannot become this one.
        """
        drafts = [torch.load(f, map_location="cpu", weights_only=True) for f in draft_files(folder, [*shapes])]
        self._weights = [draft["weights"] for draft in drafts]
        self._layers = [] if drafts else [read_layers(net_file(folder, name)) for name in shapes]
        found: list[Shape] = [draft["shape"] for draft in drafts] or [*map(shape_of, self._layers)]
        for (name, wanted), there in zip(shapes.items(), found, strict=True):
            if wanted != there and (drafts or not _grows(there, wanted)):
                raise ValueError(
                    f"{folder}: its net {name} has the shape {there}, which cannot be gone on from as {wanted}; "
                    "give the settings it was trained with, or, for an exported model, a larger shape"
                )
        self._layers = [grown(layers, shape) for layers, shape in zip(self._layers, shapes.values(), strict=False)]
        said = (folder / "phones.txt").read_text(encoding="utf-8").split() if not drafts else drafts[0]["phones"]
        self.phones: list[str] = said

    def take_over(self, number: int, net: Net, features: Tensor) -> None:
        """Makes `net` compute what the net of this number does; `features` as for the function of this name."""
        if self._weights:
            net.load_state_dict({name: value.float() for name, value in self._weights[number].items()})
        else:
            take_over(net, self._layers[number], features)


def draft_files(folder: Path, names: Sequence[str]) -> list[Path]:
    """The result that a training left of these nets, or else its last draft; empty unless all of them have one."""
    found = [next(filter(Path.exists, (folder / f"{name}.pt", folder / f"{name}-draft.pt")), None) for name in names]
    return [file for file in found if file is not None] if None not in found else []


def shape_of(layers: dict[str, Affine]) -> Shape:
    """The arguments of a `Net` that holds these layers."""
    blocks = sum(name.startswith("block") for name in layers)
    return {"phones": len(layers["out"].bias) // 2, "width": len(layers["slower"].bias), "blocks": blocks}


def _grows(old: Shape, new: Shape) -> bool:
    return old["phones"] == new["phones"] and old["width"] <= new["width"] and old["blocks"] <= new["blocks"]


def grown(layers: dict[str, Affine], shape: Shape) -> dict[str, Affine]:
    """The layers of a net of `shape`, as wide or wider and as deep or deeper, that computes nearly the same.

    A new channel is drawn after an old one, and what is old does not hear it yet; a new block, at the end, adds a
    little at random.
    """
    old, width = shape_of(layers), shape["width"]
    if shape == old:
        return layers
    rng, last = np.random.default_rng(0), layers[f"block{old['blocks']}"]
    sizes = {"first": (width // 2, FEATURES), "slower": (width, width // 2), "out": (2 * shape["phones"], width)}
    sizes |= {f"block{number + 1}": (width, width) for number in range(shape["blocks"])}
    spread = NEW_BLOCK * float(last.weights.std())
    little = Affine(rng.normal(0, spread, last.weights.shape), np.zeros_like(last.bias))
    return {name: _wider(layers.get(name, little), OFFSETS.get(name, 3), *size) for name, size in sizes.items()}


def _wider(layer: Affine, offsets: int, outputs: int, inputs: int) -> Affine:
    """The layer with so many outputs and, at each offset, inputs; those that are old weigh what they did."""
    before = len(layer.bias)
    after = np.arange(outputs) % before
    weights = layer.weights.reshape(before, offsets, -1)[after]
    weights[before:] *= np.random.default_rng(0).normal(1, NEW_CHANNEL, weights[before:].shape)
    weights = np.pad(weights, ((0, 0), (0, 0), (0, inputs - weights.shape[2])))
    return Affine(weights.reshape(outputs, -1), layer.bias[after])


def take_over(net: Net, layers: dict[str, Affine], features: Tensor) -> None:
    """Makes `net` compute what the exported net does. `features` (B, 40, T): any batch as training sees it.

    An exported net has its normalisations folded into its weights. Training needs them: each gets the mean and
    deviation that its layer shows on `features`, and gains that undo them.
    """
    with torch.no_grad():
        _take_over(net, layers, features)


def _take_over(net: Net, layers: dict[str, Affine], features: Tensor) -> None:
    mean, deviation = features.mean((0, 2)), _deviation(features)
    net.normal.running_mean.copy_(mean)
    net.normal.running_var.copy_(deviation.square())
    kernel, bias = (value.to(features.device) for value in _kernel(layers["first"], FEATURES))
    net.first.weight.copy_(kernel * deviation[None, :, None])
    bias = bias + torch.einsum("oik,i->o", kernel, mean)
    heard = net.first((features - mean[None, :, None]) / deviation[None, :, None])
    x = torch.relu(_undone(net.first_normal, heard, bias))
    x = torch.relu(_layer(net.slower, net.slower_normal, layers["slower"], x))
    for number, (block, normal) in enumerate(zip(net.blocks, net.normals, strict=True)):
        edge = DILATIONS[number]
        heard = torch.relu(_layer(block, normal, layers[f"block{number + 1}"], x))
        x = x[..., edge:-edge] + heard
    kernel, bias = _kernel(layers["out"], net.shape["width"])
    net.out.weight.copy_(kernel)
    net.out.bias.copy_(bias)


def average(before: Path, after: Path, names: Sequence[str], share: float, target: Path) -> None:
    """Checkpoints of the nets of these names with the weights of two exported models, `share` of them those of `after`.

    Makes sense only where one was trained on from the other: the average of two trainings from nothing is noise.
    """
    for name in names:
        one, other = (read_layers(net_file(model, name)) for model in (before, after))
        if shape_of(one) != shape_of(other):
            raise ValueError(
                f"{after}: its net {name} has another shape than that of {before}; give the one it came from"
            )
        mixed = {
            layer: Affine(
                *((1 - share) * a + share * b for a, b in zip(astuple(one[layer]), astuple(other[layer]), strict=True))
            )
            for layer in one
        }
        net = Net(**shape_of(mixed))
        any_batch = torch.randn(8, FEATURES, 200, generator=torch.Generator().manual_seed(0))
        take_over(net, mixed, 20 * any_batch)
        phones = (after / "phones.txt").read_text(encoding="utf-8").split()
        torch.save({"weights": net.state_dict(), "shape": net.shape, "phones": phones}, target / f"{name}.pt")


def _layer(layer: torch.nn.Conv1d, normal: torch.nn.BatchNorm1d, found: Affine, x: Tensor) -> Tensor:
    kernel, bias = _kernel(found, layer.in_channels)
    layer.weight.copy_(kernel)
    return _undone(normal, layer(x), bias.to(x.device))


def _undone(normal: torch.nn.BatchNorm1d, heard: Tensor, bias: Tensor) -> Tensor:
    """The layer's output as exported; `normal` is set so that it gives just that."""
    mean, deviation = heard.mean((0, 2)), _deviation(heard)
    normal.running_mean.copy_(mean)
    normal.running_var.copy_(deviation.square())
    normal.weight.copy_(deviation)
    normal.bias.copy_(bias + mean)
    return heard + bias[None, :, None]


def _deviation(x: Tensor) -> Tensor:
    return x.var((0, 2), unbiased=False).sqrt().clamp_min(SMALLEST_DEVIATION)


def _kernel(found: Affine, inputs: int) -> tuple[Tensor, Tensor]:
    """(out, in, kernel), (out)."""
    weights = found.weights.reshape(len(found.weights), -1, inputs).transpose(0, 2, 1)
    return torch.tensor(weights, dtype=torch.float32), torch.tensor(found.bias, dtype=torch.float32)
