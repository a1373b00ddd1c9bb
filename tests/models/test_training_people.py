"""How models/people-en is made: weights are read as they were written, and a net keeps what it was given."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np
import pytest

from models.training.batches import GREATER
from models.training.people.weights import UnreadableError, encoder_weights
from models.training.texts import spoken_sentences

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


def test_sentences_are_words_alone_and_those_with_figures_are_left_out(tmp_path: Path) -> None:
    file = tmp_path / "said.jsonl"
    lines = ["Okay, fifty mils in.", "give 50 now", "it's the patient's x-ray"]
    file.write_text("\n".join(json.dumps({"text": line}) for line in lines), encoding="utf-8")
    assert spoken_sentences(file) == ["okay fifty mils in", "it's the patient's x-ray"]
    assert spoken_sentences(tmp_path / "none.jsonl") == []


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
