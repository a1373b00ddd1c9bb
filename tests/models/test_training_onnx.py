"""The neural voices' net on torch: every operation against onnxruntime, which is the outside reference here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

pytest.importorskip("torch")
onnx = pytest.importorskip("onnx")
onnxruntime = pytest.importorskip("onnxruntime")

from onnx import TensorProto, helper, numpy_helper  # noqa: E402

from models.training.onnx_net import OPERATIONS, PREPARED, Net, UnknownOperationError  # noqa: E402

MICROSOFT = {"FastGelu", "SkipLayerNormalization", "FusedMatMul", "DynamicQuantizeLSTM"}
CONVOLUTION = {"auto_pad": "NOTSET", "dilations": [2], "group": 1, "kernel_shape": [3], "pads": [2, 2], "strides": [1]}
TRANSPOSED = {"dilations": [1], "group": 4, "kernel_shape": [3], "pads": [1, 1], "strides": [2], "output_padding": [1]}
RESIZED = {"mode": "linear", "coordinate_transformation_mode": "half_pixel", "nearest_mode": "floor"}
REPEATED = {"mode": "nearest", "coordinate_transformation_mode": "asymmetric", "nearest_mode": "floor"}

rng = np.random.default_rng(3)


def floats(*shape: int) -> NDArray[np.float32]:
    return rng.standard_normal(shape).astype(np.float32)


def ints(*numbers: int) -> NDArray[np.int64]:
    return np.array(numbers, np.int64)


def model(nodes: Sequence[Any], given: Sequence[NDArray[Any] | None], results: int) -> bytes:
    """A net whose first input is given at run time and the others are constants: `in0`, `in1` ..., `out0` ..."""
    constants = [
        numpy_helper.from_array(value, f"in{number}")
        for number, value in enumerate(given)
        if number and value is not None
    ]
    first = helper.make_tensor_value_info("in0", helper.np_dtype_to_tensor_dtype(given[0].dtype), None)  # type: ignore[union-attr]
    made = [helper.make_empty_tensor_value_info(f"out{number}") for number in range(results)]
    graph = helper.make_graph(list(nodes), "net", [first], made, constants)
    opsets = [helper.make_opsetid("", 20), helper.make_opsetid("com.microsoft", 1)]
    content: bytes = helper.make_model(graph, opset_imports=opsets, ir_version=9).SerializeToString()
    return content


def node(kind: str, inputs: int | Sequence[str], results: int | Sequence[str], **attributes: Any) -> Any:
    takes = [f"in{number}" for number in range(inputs)] if isinstance(inputs, int) else inputs
    leaves = [f"out{number}" for number in range(results)] if isinstance(results, int) else results
    domain = "com.microsoft" if kind in MICROSOFT else ""
    return helper.make_node(kind, takes, leaves, domain=domain, **attributes)


def both(content: bytes, first: NDArray[Any]) -> tuple[list[NDArray[Any]], list[NDArray[Any]]]:
    """What torch makes of it, and what onnxruntime does."""
    session = onnxruntime.InferenceSession(content, providers=["CPUExecutionProvider"])
    return Net(content, "cpu").run({"in0": first}), session.run(None, {"in0": first})


CASES: list[tuple[str, dict[str, Any], list[NDArray[Any] | None], int]] = [
    ("Add", {}, [floats(2, 3), floats(3)], 1),
    ("And", {}, [np.array([True, True, False]), np.array([True, False, False])], 1),
    ("Atan", {}, [floats(5)], 1),
    ("Cast", {"to": TensorProto.INT64}, [10 * floats(6)], 1),
    ("Clip", {}, [floats(6), np.array(0.1, np.float32)], 1),
    ("Concat", {"axis": -1}, [floats(2, 3), floats(2, 1)], 1),
    ("ConstantOfShape", {"value": numpy_helper.from_array(np.array([1.0], np.float32))}, [ints(2, 3)], 1),
    ("Conv", CONVOLUTION, [floats(1, 4, 20), floats(6, 4, 3), floats(6)], 1),
    ("ConvTranspose", TRANSPOSED, [floats(1, 4, 9), floats(4, 1, 3), floats(4)], 1),
    ("Cos", {}, [floats(5)], 1),
    ("CumSum", {}, [floats(2, 5), np.array(1, np.int64)], 1),
    ("DequantizeLinear", {}, [np.arange(-4, 4, dtype=np.int8), np.array(0.5, np.float32), np.array(3, np.int8)], 1),
    ("Div", {}, [floats(4), floats(4)], 1),
    ("Div", {}, [ints(7, -7, 9), ints(2, 2, 3)], 1),
    ("Equal", {}, [ints(1, 2, 3), ints(1, 0, 3)], 1),
    ("Exp", {}, [floats(5)], 1),
    ("Expand", {}, [floats(3, 1), ints(2, 1, 4)], 1),
    ("FastGelu", {}, [floats(2, 6), floats(6)], 1),
    ("Floor", {}, [floats(5)], 1),
    ("FusedMatMul", {"transA": 1, "alpha": 0.5}, [floats(4, 3), floats(4, 5)], 1),
    ("Gather", {"axis": 1}, [floats(2, 5, 3), np.array([[0, -1], [2, 2]])], 1),
    ("Gather", {"axis": 0}, [floats(4, 2), np.array(-2)], 1),
    ("Greater", {}, [floats(5), floats(5)], 1),
    ("GreaterOrEqual", {}, [ints(1, 2, 3), ints(1, 3, 2)], 1),
    ("LayerNormalization", {"axis": -1, "epsilon": 1e-5}, [floats(2, 7), floats(7), floats(7)], 1),
    ("LeakyRelu", {"alpha": 0.2}, [floats(5)], 1),
    ("Less", {}, [floats(5), floats(5)], 1),
    ("MatMul", {}, [floats(2, 3, 4), floats(4, 5)], 1),
    ("Mul", {}, [floats(2, 3), floats(2, 1)], 1),
    ("NonZero", {}, [np.array([[1, 0], [0, 1]], np.int64)], 1),
    ("Pad", {"mode": "reflect"}, [floats(1, 2, 9), ints(0, 0, 3, 0, 0, 2)], 1),
    ("Pow", {}, [np.abs(floats(4)), np.array(2.0, np.float32)], 1),
    ("Range", {}, [np.array(2, np.int64), np.array(11, np.int64), np.array(3, np.int64)], 1),
    ("ReduceMean", {"keepdims": 1}, [floats(2, 3, 4), ints(2)], 1),
    ("ReduceSum", {"keepdims": 0}, [floats(2, 3, 4), ints(-1)], 1),
    ("Reshape", {}, [floats(2, 3, 4), ints(0, -1)], 1),
    ("Resize", RESIZED, [floats(1, 2, 12), None, np.array([1, 1, 1 / 3], np.float32)], 1),
    ("Resize", RESIZED, [floats(1, 2, 5), None, np.array([1, 1, 4], np.float32)], 1),
    ("Resize", REPEATED, [floats(1, 2, 5), None, np.array([1, 1, 3], np.float32)], 1),
    ("Round", {}, [np.array([0.5, 1.5, -0.5, 2.4], np.float32)], 1),
    ("STFT", {"onesided": 1}, [floats(1, 60, 1), np.array(5), np.hanning(20).astype(np.float32), np.array(20)], 1),
    ("ScatterND", {}, [floats(4, 2), np.array([[3], [0]]), floats(2, 2)], 1),
    ("Shape", {}, [floats(2, 3)], 1),
    ("Sigmoid", {}, [floats(5)], 1),
    ("Sin", {}, [floats(5)], 1),
    ("SkipLayerNormalization", {"epsilon": 1e-12}, [floats(1, 2, 8), floats(1, 2, 8), floats(8), floats(8)], 1),
    ("Slice", {}, [floats(4, 9), ints(1), ints(2**60), ints(1), ints(2)], 1),
    ("Slice", {}, [floats(4, 9), ints(-3, 2), ints(-1, 7)], 1),
    ("Softmax", {"axis": -1}, [floats(2, 5)], 1),
    ("Split", {"axis": 1}, [floats(2, 7), ints(3, 4)], 2),
    ("Sqrt", {}, [np.abs(floats(5))], 1),
    ("Squeeze", {}, [floats(1, 3, 1), ints(0, 2)], 1),
    ("Sub", {}, [floats(2, 3), floats(3)], 1),
    ("Tanh", {}, [floats(5)], 1),
    ("Transpose", {"perm": [2, 0, 1]}, [floats(2, 3, 4)], 1),
    ("Unsqueeze", {}, [floats(3, 4), ints(0, -1)], 1),
    ("Where", {}, [np.array([True, False, True]), floats(3), floats(3)], 1),
]


@pytest.mark.parametrize(("kind", "attributes", "given", "results"), CASES, ids=[case[0] for case in CASES])
def test_an_operation_gives_what_it_gives_in_onnxruntime(
    kind: str, attributes: dict[str, Any], given: list[NDArray[Any] | None], results: int
) -> None:
    takes = ["" if value is None else f"in{number}" for number, value in enumerate(given)]
    content = model([node(kind, takes, results, **attributes)], given, results)
    assert given[0] is not None
    ours, theirs = both(content, given[0])
    assert len(ours) == len(theirs) == results
    for one, other in zip(ours, theirs, strict=True):
        assert one.shape == other.shape
        np.testing.assert_allclose(one, other, atol=2e-5)


def test_every_operation_that_is_known_is_held_against_onnxruntime() -> None:
    assert {case[0] for case in CASES} == OPERATIONS.keys()
    assert {"ConvInteger", "MatMulInteger", "DynamicQuantizeLSTM"} == PREPARED.keys()


def quantised(kind: str, weights: NDArray[np.int8], zero: int, **attributes: Any) -> bytes:
    """What a quantiser makes of a layer: its input in bytes, whole numbers, and both steps to multiply with."""
    constants: list[NDArray[Any] | None] = [floats(1), weights, np.array(zero, np.int8), np.array(0.01, np.float32)]
    nodes = [
        node("DynamicQuantizeLinear", 1, ["bytes", "step", "zero"]),
        node(kind, ["bytes", "in1", "zero", "in2"], ["whole"], **attributes),
        node("Cast", ["whole"], ["made"], to=TensorProto.FLOAT),
        node("Mul", ["step", "in3"], ["both"]),
        node("Mul", ["made", "both"], ["out0"]),
    ]
    return model(nodes, constants, 1)


@pytest.mark.parametrize("zero", [0, 5])
def test_a_quantised_layer_is_what_it_was_but_for_the_rounding(zero: int) -> None:
    weights = rng.integers(-100, 100, (6, 4, 3)).astype(np.int8)
    for content, first in (
        (quantised("ConvInteger", weights, zero, **CONVOLUTION), floats(1, 4, 20)),
        (quantised("MatMulInteger", weights[0], zero), floats(1, 5, 4)),
    ):
        (ours,), (theirs,) = both(content, first)
        rounding = (np.ptp(first) / 255 / 2) * np.abs(weights.astype(np.float32) - zero).sum() * 0.01
        assert 0 < np.abs(ours - theirs).max() < rounding
        assert np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] > 0.999


def test_a_quantised_lstm_in_both_directions() -> None:
    inputs, cells, time = 6, 5, 9
    weights = [rng.integers(-120, 120, (2, rows, 4 * cells)).astype(np.int8) for rows in (inputs, cells)]
    step, zero, start = np.full(2, 0.01, np.float32), np.zeros(2, np.int8), np.zeros((2, 1, cells), np.float32)
    given = [floats(time, 1, inputs), *weights, floats(2, 8 * cells), None, start, start, None, step, zero, step, zero]
    takes = ["" if value is None else f"in{number}" for number, value in enumerate(given)]
    lstm = node("DynamicQuantizeLSTM", takes, 1, hidden_size=cells, direction="bidirectional")
    assert given[0] is not None
    (ours,), (theirs,) = both(model([lstm], given, 1), given[0])
    assert ours.shape == theirs.shape == (time, 2, 1, cells)
    np.testing.assert_allclose(ours, theirs, atol=0.05)
    assert np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] > 0.999


def test_silence_has_an_angle_of_nothing() -> None:
    content = model([node("Div", ["in0", "in0"], ["ratio"]), node("Atan", ["ratio"], 1)], [floats(1)], 1)
    (angle,) = Net(content, "cpu").run({"in0": np.zeros(3, np.float32)})
    assert angle.tolist() == [0, 0, 0]


def test_what_is_known_beforehand_is_computed_once_and_nothing_is_kept_longer_than_needed() -> None:
    nodes = [
        node("Add", ["in1", "in1"], ["twice"]),
        node("Mul", ["in0", "twice"], ["more"]),
        node("Sqrt", ["more"], ["root"]),
        node("Add", ["root", "in0"], ["out0"]),
    ]
    net = Net(model(nodes, [floats(3), floats(3)], 1), "cpu")
    assert [step.leaves for step in net.steps] == [["more"], ["root"], ["out0"]]
    assert [sorted(step.done_with) for step in net.steps] == [[], ["more"], ["in0", "root"]]


@pytest.mark.parametrize(
    ("kind", "attributes", "given"),
    [
        ("Erf", {}, [floats(3)]),
        ("Slice", {}, [floats(4), ints(3), ints(0), ints(0), ints(-1)]),
        ("Pad", {"mode": "constant"}, [floats(1, 1, 4), ints(0, 0, 1, 0, 0, 1)]),
        ("Resize", {**RESIZED, "mode": "cubic"}, [floats(1, 1, 4, 4), None, np.array([1, 1, 2, 2], np.float32)]),
        ("Conv", {**CONVOLUTION, "pads": [1, 2]}, [floats(1, 4, 20), floats(6, 4, 3)]),
    ],
)
def test_what_is_not_known_is_refused(kind: str, attributes: dict[str, Any], given: list[NDArray[Any] | None]) -> None:
    takes = ["" if value is None else f"in{number}" for number, value in enumerate(given)]
    content = model([node(kind, takes, 1, **attributes)], given, 1)
    assert given[0] is not None
    with pytest.raises(UnknownOperationError):
        Net(content, "cpu").run({"in0": given[0]})
