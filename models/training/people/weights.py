"""Reads the weights of a general recogniser's encoder out of the binary file that CTranslate2 keeps models in.

The file: version (4 bytes), name of the kind of model, revision, number of arrays; for each array its name, its
dimensions, its type, its size and its numbers. All little-endian; a name is its length (2 bytes) and its letters, ended
by a zero. Version 6 is read and nothing else.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

VERSION = 6
TYPES = {0: "<f4", 1: "<i1", 2: "<i2", 3: "<i4", 4: "<f2"}

Arrays = dict[str, NDArray[np.float32]]


class UnreadableError(Exception):
    """The file is not of the kind that is read here."""


def encoder_weights(file: Path) -> Arrays:
    """The arrays of the encoder, by their names without "encoder/". Raises UnreadableError."""
    prefix = "encoder/"
    with file.open("rb") as binary:
        version = _number(binary, "I")
        if version != VERSION:
            raise UnreadableError(f"{file}: version {version}, not {VERSION}")
        _text(binary)
        _number(binary, "I")
        found = (_array(binary) for _ in range(_number(binary, "I")))
        arrays = {name.removeprefix(prefix): values for name, values in found if name.startswith(prefix)}
    if "conv1/weight" not in arrays:
        raise UnreadableError(f"{file}: there is no encoder of sound in it")
    return arrays


def _array(binary: BinaryIO) -> tuple[str, NDArray[np.float32]]:
    name = _text(binary)
    shape = [_number(binary, "I") for _ in range(_number(binary, "B"))]
    kind = _number(binary, "B")
    content = binary.read(_number(binary, "I"))
    if kind not in TYPES:
        raise UnreadableError(f"{name}: numbers of type {kind}")
    return name, np.frombuffer(content, TYPES[kind]).astype(np.float32).reshape(shape)


def _number(binary: BinaryIO, form: str) -> int:
    size = struct.calcsize("<" + form)
    content = binary.read(size)
    if len(content) < size:
        raise UnreadableError("the file ends too early")
    (value,) = struct.unpack("<" + form, content)
    return int(value)


def _text(binary: BinaryIO) -> str:
    return binary.read(_number(binary, "H")).rstrip(b"\0").decode()
