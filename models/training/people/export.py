"""From a trained net to the folder that `voice.engines.people` loads: the net, weights a byte each, and its sounds."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import torch

from models.training.lexicon import lexicon_lines, load_lexicon
from models.training.people.encoder import Encoder, with_weights
from models.training.people.weights import encoder_weights
from voice.engines.dictionary import dictionary
from voice.engines.log_mel import BANDS

OPSET = 17
MANY = 4096
"""Numbers of an array from which it is kept in half precision."""

NET, PHONES, LEXICON = "net.onnx", "phones.txt", "lexicon.txt"


def trained(weights: Path, net: Path) -> tuple[Encoder, list[str]]:
    """The net as it was trained, and its sounds; `weights` gives the places of frames, which are not trained."""
    with np.load(net) as arrays:
        sounds = [str(sound) for sound in arrays["sounds"]]
        learnt = {name: torch.from_numpy(arrays[name].astype(np.float32)) for name in arrays if name != "sounds"}
    encoder = with_weights(encoder_weights(weights), len(sounds), dropout=0.0)
    encoder.load_state_dict(learnt | {"places": encoder.places})
    return encoder.eval(), sounds


def export(weights: Path, net: Path, target: Path) -> None:
    """Writes the folder. Products of matrices are rounded to bytes, the two convolutions to half precision."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    encoder, sounds = trained(weights, net)
    target.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder:
        exact = Path(folder) / NET
        write_onnx(encoder, exact)
        quantize_dynamic(
            exact, target / NET, op_types_to_quantize=["MatMul"], per_channel=True, weight_type=QuantType.QInt8
        )
    halve(target / NET)
    (target / PHONES).write_text("\n".join((*sounds, "")), encoding="utf-8")
    (target / LEXICON).write_text("".join(lexicon_lines(load_lexicon(dictionary()))), encoding="utf-8")


def halve(file: Path) -> None:
    """Keeps large arrays of 32-bit numbers in half precision; the net reads them as 32-bit again."""
    import onnx

    model = onnx.load(file)
    for values in model.graph.initializer:
        if values.data_type == onnx.TensorProto.FLOAT and np.prod(values.dims) >= MANY:
            whole, half = values.name, values.name + "_half"
            values.CopyFrom(onnx.numpy_helper.from_array(onnx.numpy_helper.to_array(values).astype(np.float16), half))
            cast = onnx.helper.make_node("Cast", [half], [whole], to=onnx.TensorProto.FLOAT)
            model.graph.node.insert(0, cast)
    onnx.save(model, file)


def write_onnx(encoder: Encoder, file: Path) -> None:
    """One sound at a time, of any length, `features` (1, BANDS, 2T) to `chances` (1, T, sounds), natural log."""
    whole = torch.nn.Sequential(encoder, torch.nn.LogSoftmax(-1)).eval()
    torch.onnx.export(
        whole,
        (torch.zeros(1, BANDS, 300),),
        str(file),
        input_names=["features"],
        output_names=["chances"],
        dynamic_axes={"features": {2: "bands_frames"}, "chances": {1: "frames"}},
        opset_version=OPSET,
        dynamo=False,
    )
