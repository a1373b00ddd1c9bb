"""From the trained net to a folder that vosk loads: net, features, and a default graph with the words of the shipped
definitions in any order. The log itself compiles strict graphs of its own from the definition in force.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import torch

from log.definition.load import shipped
from log.rules.definitions import read_procedure
from models.training.kaldi import Array, Nnet3, acoustic_model
from models.training.lexicon import Lexicon, lexicon_lines, load_lexicon
from models.training.net import DILATIONS, FEATURES, STRIDE
from voice.engines.dictionary import dictionary
from voice.engines.openfst import Arc, Graph, const_bytes, lookahead_bytes
from voice.engines.vosk_graph import UNKNOWN, Sounds, Words, pronunciations
from voice.phrases.phrases import compile_phrases

SMALLEST_VARIANCE = 1e-5

FEATURE_OPTIONS = """--sample-frequency=16000
--use-energy=false
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=7600
--dither=0
--allow-downsample=true
"""

DECODER_OPTIONS = """--min-active=200
--max-active=3000
--beam=13.0
--lattice-beam=4.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=0.75
--endpoint.rule4.min-trailing-silence=1.0
"""

UNKNOWN_COST = 4.0


def export(settings: dict[str, Any], checkpoints: Path, target: Path) -> None:
    """Writes the folder of the only net in the settings."""
    [net] = settings["nets"]
    write(settings, checkpoints / f"{net['name']}.pt", target)
    _default_graph(target / "graph", load_lexicon(dictionary()))


def write(settings: dict[str, Any], checkpoint: Path, target: Path, small: bool = True) -> None:
    """Writes one net, without a graph. `small`: a byte instead of four for each weight."""
    saved = torch.load(checkpoint, map_location="cpu", weights_only=True)
    weights = {name: value.double().numpy() for name, value in saved["weights"].items()}
    phones: list[str] = saved["phones"]
    stay = settings["export"]["self_loop"]
    for folder in ("am", "conf"):
        (target / folder).mkdir(parents=True, exist_ok=True)
    net = _net(weights, saved["shape"], small)
    (target / "am" / "final.mdl").unlink(missing_ok=True)  # graphs compiled for a model share its file
    (target / "am" / "final.mdl").write_bytes(acoustic_model(len(phones), stay, net))
    (target / "conf" / "mfcc.conf").write_text(FEATURE_OPTIONS, encoding="utf-8")
    (target / "conf" / "model.conf").write_text(DECODER_OPTIONS, encoding="utf-8")
    (target / "phones.txt").write_text("".join(f"{phone}\n" for phone in phones), encoding="utf-8")
    lexicon = load_lexicon(dictionary())
    (target / "lexicon.txt").write_text("".join(lexicon_lines(lexicon)), encoding="utf-8")


def _net(weights: dict[str, Array], shape: dict[str, int], small: bool) -> bytes:
    width, half = shape["width"], shape["width"] // 2
    net = Nnet3(FEATURES)
    kernel, bias = _folded(weights, "first", "first_normal")
    mean, variance = weights["normal.running_mean"], weights["normal.running_var"]
    scaled = kernel / np.sqrt(variance + SMALLEST_VARIANCE)[None, :, None]
    bias = bias - np.einsum("oik,i->o", scaled, mean)
    node = net.affine("first", "input", _flat(scaled), bias, range(-2, 3), small=False)
    node = net.relu("first.relu", node, half)
    kernel, bias = _folded(weights, "slower", "slower_normal")
    node = net.affine("slower", node, _flat(kernel), bias, range(-2, 3), small)
    node = net.relu("slower.relu", node, width)
    for number in range(shape["blocks"]):
        kernel, bias = _folded(weights, f"blocks.{number}", f"normals.{number}")
        apart = STRIDE * DILATIONS[number]
        name = f"block{number + 1}"
        heard = net.affine(name, node, _flat(kernel), bias, (-apart, 0, apart), small)
        heard = net.relu(f"{name}.relu", heard, width)
        node = net.total(f"{name}.sum", node, heard, width)
    out = net.affine("out", node, weights["out.weight"][:, :, 0], weights["out.bias"], (0,), small=False)
    return net.content(out)


def _folded(weights: dict[str, Array], layer: str, normal: str) -> tuple[Array, Array]:
    """(out, in, kernel) and (out) with the normalisation that follows taken in."""
    variance = weights[f"{normal}.running_var"] + SMALLEST_VARIANCE
    gain = weights[f"{normal}.weight"] / np.sqrt(variance)
    bias = weights[f"{normal}.bias"] - gain * weights[f"{normal}.running_mean"]
    return weights[f"{layer}.weight"] * gain[:, None, None], bias


def _flat(kernel: Array) -> Array:
    """(out, kernel x in): frames one after the other."""
    return kernel.transpose(0, 2, 1).reshape(len(kernel), -1)


def _default_graph(folder: Path, lexicon: Lexicon) -> None:
    (folder / "phones").mkdir(parents=True, exist_ok=True)
    known = {word for name in shipped() for word in compile_phrases(read_procedure(name)).vocabulary}
    words, sounds = Words.of(known), Sounds(lexicon.phones)
    said = {word: (lexicon.words[word],) for word in sorted(known)}
    cost = math.log(len(known))
    arcs = [
        Arc(0, 0, label, label, cost + (UNKNOWN_COST if word == UNKNOWN else 0.0))
        for word, label in sorted(words.labels.items())
    ]
    (folder / "HCLr.fst").write_bytes(lookahead_bytes(pronunciations(sounds, said, words), len(words.labels)))
    (folder / "Gr.fst").write_bytes(const_bytes(Graph(1, arcs, {0: 0.0})))
    (folder / "words.txt").write_text(words.text(), encoding="utf-8")
    (folder / "phones" / "word_boundary.int").write_text(sounds.word_boundary(), encoding="utf-8")
    (folder / "disambig_tid.int").write_text(sounds.disambiguation(), encoding="utf-8")
