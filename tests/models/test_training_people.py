"""How models/people-en is made: weights are read as they were written, and a net keeps what it was given."""

from __future__ import annotations

import random
import struct
from pathlib import Path

import numpy as np
import pytest

from models.training.batches import GREATER
from models.training.people.weights import UnreadableError, encoder_weights
from models.training.texts import spoken_sentences, with_numbers

ARRAYS = {
    "encoder/conv1/weight": np.arange(6, dtype="<f2").reshape(1, 2, 3),
    "encoder/layer_norm/gamma": np.array([1.5, -2.0], "<f4"),
    "decoder/embeddings/weight": np.ones((2, 2), "<f4"),
}
TYPES = {"<f2": 4, "<f4": 0}


def written(file: Path, version: int = 6) -> Path:
    def text(value: str) -> bytes:
        return struct.pack("<H", len(value) + 1) + value.encode() + b"\0"

    content = struct.pack("<I", version) + text("Spec") + struct.pack("<II", 3, len(ARRAYS))
    for name, values in ARRAYS.items():
        shape = struct.pack(f"<B{values.ndim}I", values.ndim, *values.shape)
        content += text(name) + shape + struct.pack("<BI", TYPES[values.dtype.str], values.nbytes) + values.tobytes()
    file.write_bytes(content)
    return file


def test_the_arrays_of_the_encoder_are_read_as_they_were_written(tmp_path: Path) -> None:
    found = encoder_weights(written(tmp_path / "model.bin"))
    assert set(found) == {"conv1/weight", "layer_norm/gamma"}
    for name, values in found.items():
        assert values.dtype == np.float32 and (values == ARRAYS[f"encoder/{name}"]).all()
        assert values.shape == ARRAYS[f"encoder/{name}"].shape


@pytest.mark.parametrize("kept", [3, 20, 60])
def test_a_file_that_ends_early_is_not_read(tmp_path: Path, kept: int) -> None:
    file = written(tmp_path / "model.bin")
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises((UnreadableError, ValueError)):
        encoder_weights(file)


def test_another_version_is_not_read(tmp_path: Path) -> None:
    with pytest.raises(UnreadableError, match="version 5"):
        encoder_weights(written(tmp_path / "model.bin", version=5))


def test_sentences_get_a_number_for_each_place_of_one(tmp_path: Path) -> None:
    file = tmp_path / "said.txt"
    file.write_text(";; how it was made\n#\nokay , # mils in\nit's the patient's x-ray ?\n", encoding="utf-8")
    assert spoken_sentences(file) == ["okay # mils in", "it's the patient's x-ray"]
    assert spoken_sentences(tmp_path / "none.txt") == []
    said = {with_numbers("okay # mils in", random.Random(seed)) for seed in range(20)}
    numbers = {sentence.removeprefix("okay ").removesuffix(" mils in") for sentence in said}
    assert len(numbers) > 10 and not any("#" in number for number in numbers)


def test_teens_and_tens_are_the_numbers_that_are_weighted_up() -> None:
    assert {"thirteen", "thirty", "nineteen", "ninety", "hundred"} <= GREATER
    assert not GREATER & {"three", "zero"}


def test_a_net_has_the_weights_it_is_given_and_the_features_that_the_engine_computes() -> None:
    torch = pytest.importorskip("torch")
    from models.training.people.encoder import Encoder, LogMel
    from voice.engines.log_mel import log_mel

    wave = np.random.default_rng(0).normal(0, 0.1, 8000).astype(np.float32)
    (features,) = LogMel()(torch.from_numpy(wave)[None]).numpy()
    assert features == pytest.approx(log_mel(wave), abs=1e-3)
    net = Encoder(64, 2, 100, 5)
    groups = net.from_bottom()
    assert sum(len(group) for group in groups) == len(list(net.parameters())) and len(groups) == 4
    net.eval()
    alone = net(torch.from_numpy(features)[None])
    assert alone.shape == (1, 25, 5)
    net.train()
    assert torch.allclose(alone, net(torch.from_numpy(features)[None]), atol=1e-4)


def test_a_longer_throat_moves_every_line_in_proportion_and_the_uppermost_stays() -> None:
    torch = pytest.importorskip("torch")
    from models.training.people.encoder import EVENLY, warped

    lines = torch.arange(201.0)[None, :, None].expand(3, -1, 4)  # each line holds where it was
    scales = torch.tensor([1.0, 1.14, 0.86])
    found = warped(lines, scales)[..., 0]
    evenly = int(EVENLY * 200 / 1.14)
    assert torch.allclose(found[:, :evenly], lines[..., 0][:, :evenly] * scales[:, None], atol=1e-3)
    assert torch.allclose(found[:, -1], torch.full((3,), 200.0), atol=1e-3)
    assert bool((found.diff(dim=1) > 0).all())
