"""The encoder: two convolutions (100 to 50 frames a second), four layers of attention, and outputs for the sounds.

The attention is written out, so that it is exported to ONNX as plain products. Checked against a run of the exported
net and by what it hears; the features are those of `voice.engines.log_mel`.
"""

from __future__ import annotations

import math

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

from models.training.people.weights import Arrays
from voice.engines.log_mel import BANDS, DECADES, SHIFT, WINDOW, bank

HEAD_WIDTH = 64

EVENLY = 0.8
"""Share of all lines of a spectrum that move in proportion with the length of the throat."""


class LogMel(nn.Module):
    """Sound (B, N) to features (B, BANDS, N / SHIFT), as `voice.engines.log_mel` makes them."""

    def __init__(self) -> None:
        super().__init__()
        self.register_buffer("window", torch.hann_window(WINDOW))
        self.register_buffer("bank", torch.from_numpy(bank()))

    def forward(self, wave: Tensor, throats: Tensor | None = None) -> Tensor:
        """For many sounds of one length. `throats` (B): by how much longer (above 1) each throat becomes."""
        lines = torch.stft(wave, WINDOW, SHIFT, window=self.window, return_complex=True, pad_mode="reflect")
        power = lines[..., :-1].abs().square()
        if throats is not None:
            power = warped(power, throats)
        logs = (self.bank @ power).clamp_min(1e-10).log10()
        result: Tensor = (torch.maximum(logs, logs.amax((1, 2), keepdim=True) - DECADES) + 4) / 4
        return result


def warped(power: Tensor, throats: Tensor) -> Tensor:
    """(B, lines, T) with the lines of each where a throat of another length has them (Jaitly and Hinton 2013): in
    proportion up to `EVENLY` of all, from there on so that the uppermost stays where it is.
    """
    top = power.shape[1] - 1
    at = torch.arange(top + 1, device=power.device)[None] / top
    scale = throats[:, None]
    bend = EVENLY / scale.clamp_min(1.0)
    above = bend * scale + (at - bend) * (1 - bend * scale) / (1 - bend)
    where = torch.where(at < bend, at * scale, above).clamp(0, 1) * top
    below = where.floor().clamp_max(top - 1)
    part = (where - below)[..., None]
    index = below.long()[..., None].expand(-1, -1, power.shape[2])
    return power.gather(1, index) * (1 - part) + power.gather(1, index + 1) * part


class Layer(nn.Module):
    """Attention and two products, each with a shortcut."""

    def __init__(self, width: int, dropout: float) -> None:
        super().__init__()
        self.heads = width // HEAD_WIDTH
        self.before, self.between = nn.LayerNorm(width), nn.LayerNorm(width)
        self.asked, self.answered = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.wide, self.narrow = nn.Linear(width, 4 * width), nn.Linear(4 * width, width)
        self.drop = nn.Dropout(dropout)

    def forward(self, x: Tensor) -> Tensor:
        """(B, T, width) to the same."""
        x = x + self.drop(self.answered(self.attended(self.before(x))))
        result: Tensor = x + self.drop(self.narrow(functional.gelu(self.wide(self.between(x)))))
        return result

    def attended(self, x: Tensor) -> Tensor:
        """The attention that every frame pays to all others."""
        many, frames, width = x.shape
        three = self.asked(x).reshape(many, frames, 3, self.heads, HEAD_WIDTH).permute(2, 0, 3, 1, 4)
        query, key, value = three[0], three[1], three[2]
        if self.training:
            mixed = functional.scaled_dot_product_attention(query, key, value)
        else:
            mixed = torch.softmax(query @ key.transpose(-1, -2) / math.sqrt(HEAD_WIDTH), -1) @ value
        result: Tensor = mixed.transpose(1, 2).reshape(many, frames, width)
        return result


class Encoder(nn.Module):
    """Features (B, BANDS, 2T) to scores (B, T, sounds); sound 0 is the blank of CTC."""

    def __init__(self, width: int, layers: int, longest: int, sounds: int, dropout: float = 0.0) -> None:
        """`longest`: frames, 50 a second, that it has places for."""
        super().__init__()
        self.first = nn.Conv1d(BANDS, width, 3, padding=1)
        self.slower = nn.Conv1d(width, width, 3, stride=2, padding=1)
        self.register_buffer("places", torch.zeros(longest, width))
        self.layers = nn.ModuleList(Layer(width, dropout) for _ in range(layers))
        self.last = nn.LayerNorm(width)
        self.out = nn.Linear(width, sounds)

    def forward(self, features: Tensor) -> Tensor:
        """Raw scores; their softmax is the chance of each sound."""
        x = functional.gelu(self.slower(functional.gelu(self.first(features)))).transpose(1, 2)
        x = x + self.places[: x.shape[1]]
        for layer in self.layers:
            x = layer(x)
        result: Tensor = self.out(self.last(x))
        return result

    def from_bottom(self) -> list[list[nn.Parameter]]:
        """The parameters by how far they are from the sound; the outputs are the last group."""
        bottom = [*self.first.parameters(), *self.slower.parameters()]
        layers = [list(layer.parameters()) for layer in self.layers]
        layers[-1] += self.last.parameters()
        return [bottom, *layers, list(self.out.parameters())]


NAMES = {
    "before": "self_attention/layer_norm",
    "asked": "self_attention/linear_0",
    "answered": "self_attention/linear_1",
    "between": "ffn/layer_norm",
    "wide": "ffn/linear_0",
    "narrow": "ffn/linear_1",
}
"""The names of the parts of a layer in the file that the weights come from."""


def with_weights(arrays: Arrays, sounds: int, dropout: float) -> Encoder:
    """The encoder as the general recogniser has it; the outputs are new."""
    longest, width = arrays["position_encodings/encodings"].shape
    layers = sum(name.startswith("layer_") and name.endswith("ffn/linear_0/bias") for name in arrays)
    net = Encoder(width, layers, longest, sounds, dropout)
    with torch.no_grad():
        net.places.copy_(torch.from_numpy(arrays["position_encodings/encodings"]))
        _fill(net.first, arrays, "conv1")
        _fill(net.slower, arrays, "conv2")
        _fill(net.last, arrays, "layer_norm")
        for number, layer in enumerate(net.layers):
            for part, name in NAMES.items():
                _fill(getattr(layer, part), arrays, f"layer_{number}/{name}")
        net.out.weight.normal_(0, 0.02)
        net.out.bias.zero_()
    return net


def _fill(part: nn.Module, arrays: Arrays, name: str) -> None:
    weight = arrays.get(f"{name}/weight", arrays.get(f"{name}/gamma"))
    bias = arrays.get(f"{name}/bias", arrays.get(f"{name}/beta"))
    assert weight is not None and bias is not None, name
    part.weight.copy_(torch.from_numpy(np.ascontiguousarray(weight)))
    part.bias.copy_(torch.from_numpy(np.ascontiguousarray(bias)))
