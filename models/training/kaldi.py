"""Writes the acoustic net as the binary file that vosk reads (Kaldi's transition model and nnet3, binary form).

Facts of the format: Kaldi's public documentation and what vosk 0.3.45 accepts. Numbers are little-endian; each is
preceded by its length in bytes.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PERCENTILES = (0, 64, 192, 255)
"""Codes of the four values that a column's codes are interpolated between."""


def token(text: str) -> bytes:
    """A word of the format."""
    return text.encode() + b" "


def whole(value: int) -> bytes:
    """A 32-bit integer."""
    return struct.pack("<bi", 4, value)


def single(value: float) -> bytes:
    """A 32-bit float."""
    return struct.pack("<bf", 4, value)


def double(value: float) -> bytes:
    """A 64-bit float."""
    return struct.pack("<bd", 8, value)


def wholes(values: Sequence[int]) -> bytes:
    """A list of integers."""
    return whole(len(values)) + np.asarray(values, "<i4").tobytes()


def vector(values: Array) -> bytes:
    """A vector of 32-bit floats."""
    return token("FV") + whole(values.size) + values.astype("<f4").tobytes()


def matrix(values: Array) -> bytes:
    """A matrix of 32-bit floats."""
    return token("FM") + whole(values.shape[0]) + whole(values.shape[1]) + values.astype("<f4").tobytes()


def compressed(values: Array) -> bytes:
    """A matrix with a byte for each value: in every column, codes between its least value, quartiles and greatest."""
    low, reach = float(values.min()), float(np.ptp(values)) or 1.0
    ordered = np.sort(values, axis=0)
    rows = len(ordered)
    quarters = ordered[[0, rows // 4, 3 * rows // 4, rows - 1]]
    marks = np.clip(np.round((quarters - low) / reach * 65535), 0, 65535).astype(np.int64)
    for row in (1, 2, 3):  # the four have to differ
        marks[row] = np.maximum(marks[row], marks[row - 1] + 1)
    for row in (3, 2, 1, 0):
        marks[row] = np.minimum(marks[row], 65535 - (3 - row))
    exact = low + marks / 65535 * reach
    codes = np.empty(values.shape, np.uint8)
    for column in range(values.shape[1]):
        codes[:, column] = np.round(np.interp(values[:, column], exact[:, column], PERCENTILES))
    head = struct.pack("<ffii", low, reach, *values.shape)
    return token("CM") + head + marks.T.astype("<u2").tobytes() + codes.T.tobytes()


def expanded(content: bytes) -> tuple[Array, bytes]:
    """The matrix in compressed form, `content` beginning after its token, as vosk reads it; and the bytes after it."""
    low, reach, rows, columns = struct.unpack("<ffii", content[:16])
    codes_at = 16 + 8 * columns
    end = codes_at + rows * columns
    marks = np.frombuffer(content[16:codes_at], "<u2").reshape(columns, 4)
    codes = np.frombuffer(content[codes_at:end], np.uint8).reshape(columns, rows)
    exact = low + marks / 65535 * reach
    values = np.stack([np.interp(codes[c], PERCENTILES, exact[c]) for c in range(columns)], axis=1)
    return values, content[end:]


def uncompressed(values: Array) -> Array:
    """`values` as vosk reads them back: to measure what is lost."""
    return expanded(compressed(values)[len(token("CM")) :])[0]


def transition_model(phones: int, stay: float) -> bytes:
    """Silence and four variants of every other phone, each with one state that is entered and stayed in.

    The variants of a phone share their two outputs of the net: 2k for the first frame, 2k + 1 for further ones.
    """
    count = 1 + 4 * (phones - 1)
    content = token("<TransitionModel>") + token("<Topology>")
    content += wholes(range(1, count + 1)) + wholes([-1, *[0] * count])
    content += whole(-1) + whole(1)  # first and further frames have outputs of their own; one kind of phone
    content += whole(2)  # states: one that emits, and the end
    content += whole(0) + whole(1) + whole(2)
    content += whole(0) + single(stay) + whole(1) + single(1 - stay)
    content += whole(-1) + whole(-1) + whole(0)
    content += token("</Topology>") + token("<Tuples>") + whole(count)
    for variant in range(1, count + 1):
        phone = 0 if variant == 1 else 1 + (variant - 2) // 4
        content += whole(variant) + whole(0) + whole(2 * phone) + whole(2 * phone + 1)
    chances = np.zeros(2 * count + 1)
    chances[1::2], chances[2::2] = math.log(stay), math.log(1 - stay)
    return (
        content
        + token("</Tuples>")
        + token("<LogProbs>")
        + vector(chances)
        + token("</LogProbs>")
        + token("</TransitionModel>")
    )


@dataclass
class Nnet3:
    """A net, node by node; every method gives the name of the node it makes."""

    inputs: int
    _lines: list[str] = field(default_factory=list)
    _components: list[tuple[str, bytes]] = field(default_factory=list)

    def affine(self, name: str, source: str, weights: Array, bias: Array, offsets: Sequence[int], small: bool) -> str:
        """`weights` (out, in x offsets), the frames at the given offsets one after the other."""
        at = (source if o == 0 else f"Offset({source}, {o})" for o in offsets)
        joined = source if list(offsets) == [0] else f"Append({', '.join(at)})"
        content = token("<FixedAffineComponent>") + token("<LinearParams>")
        content += (compressed(weights) if small else matrix(weights)) + token("<BiasParams>") + vector(bias)
        return self._node(name, joined, content + token("</FixedAffineComponent>"))

    def relu(self, name: str, source: str, size: int) -> str:
        """Everything below 0 becomes 0."""
        empty = vector(np.zeros(0))
        content = token("<RectifiedLinearComponent>") + token("<Dim>") + whole(size)
        content += token("<ValueAvg>") + empty + token("<DerivAvg>") + empty
        for count in ("<Count>", "<NumDimsSelfRepaired>", "<NumDimsProcessed>"):
            content += token(count) + double(0.0)
        return self._node(name, source, content + token("</RectifiedLinearComponent>"))

    def total(self, name: str, first: str, second: str, size: int) -> str:
        """The sum of two nodes."""
        content = token("<NoOpComponent>") + token("<Dim>") + whole(size) + token("<BackpropScale>") + single(1.0)
        return self._node(name, f"Sum({first}, {second})", content + token("</NoOpComponent>"))

    def _node(self, name: str, source: str, component: bytes) -> str:
        self._lines.append(f"component-node name={name} component={name} input={source}")
        self._components.append((name, component))
        return name

    def content(self, output: str) -> bytes:
        """The whole net."""
        lines = [f"input-node name=input dim={self.inputs}", *self._lines]
        lines.append(f"output-node name=output input={output} objective=linear")
        content = token("<Nnet3>") + b"\n" + "\n".join(lines).encode() + b"\n\n"
        content += token("<NumComponents>") + whole(len(self._components))
        for name, component in self._components:
            content += token("<ComponentName>") + token(name) + component
        return content + token("</Nnet3>")


def acoustic_model(phones: int, stay: float, net: bytes) -> bytes:
    """The content of final.mdl."""
    ends = token("<LeftContext>") + whole(0) + token("<RightContext>") + whole(0)
    priors = token("<Priors>") + vector(np.zeros(0))
    return b"\0B" + transition_model(phones, stay) + net + ends + priors
