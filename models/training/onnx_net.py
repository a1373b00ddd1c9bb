"""Runs a net that comes as an ONNX file with torch, on a graphics processor where there is one: a neural voice says
several utterances a second there. Only the operations that the neural voices need are known.

A quantised net is run as if it were not: its weights go back to what their bytes stand for, and what flows through it
is not rounded.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import onnx
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

Attributes = Mapping[str, Any]
Operation = Callable[..., Any]

TYPES = {
    onnx.TensorProto.FLOAT: torch.float32,
    onnx.TensorProto.INT32: torch.int64,
    onnx.TensorProto.INT64: torch.int64,
    onnx.TensorProto.BOOL: torch.bool,
}


class UnknownOperationError(Exception):
    """The net needs an operation, or a way of doing one, that is not known here."""


@dataclass(slots=True)
class Step:
    """One operation, and the names of what it takes and leaves."""

    operation: Operation
    takes: list[str]
    leaves: list[str]
    done_with: list[str] = field(default_factory=list)
    """What nothing after it needs."""


class Net:
    """One net on one device. Whole numbers and shapes stay on the processor, where nothing has to wait for them."""

    def __init__(self, content: bytes, device: str) -> None:
        """Reads an ONNX file. Raises UnknownOperationError."""
        graph = onnx.load_from_string(content).graph
        self._device = torch.device(device)
        self._known: dict[str, Tensor | None] = {"": None}
        for constant in graph.initializer:
            self._known[constant.name] = self._placed(_tensor(constant))
        self._results = [result.name for result in graph.output]
        self.steps: list[Step] = []
        self._same: dict[str, str] = {}
        for node in graph.node:
            self._add(node)
        needed = self._known.keys() | set(self._results)
        for step in reversed(self.steps):
            step.done_with = [name for name in {*step.takes, *step.leaves} if name not in needed]
            needed |= set(step.done_with)

    def run(self, given: Mapping[str, NDArray[Any]]) -> list[NDArray[Any]]:
        """What the net makes of what it is given."""
        values = self._known | {name: self._placed(torch.from_numpy(value)) for name, value in given.items()}
        with torch.inference_mode():
            for step in self.steps:
                made = step.operation(*[values[name] for name in step.takes])
                values.update(zip(step.leaves, made if isinstance(made, tuple) else (made,), strict=False))
                for name in step.done_with:
                    values.pop(name, None)
        return [value.cpu().numpy() for value in (values[name] for name in self._results) if value is not None]

    def _placed(self, value: Tensor) -> Tensor:
        of_the_net = value.is_floating_point() or value.dtype in (torch.int8, torch.uint8)
        return value.to(self._device) if of_the_net else value

    def _add(self, node: onnx.NodeProto) -> None:
        takes = [self._same.get(name, name) for name in node.input]
        leaves = list(node.output)
        attributes = {given.name: onnx.helper.get_attribute_value(given) for given in node.attribute}
        if node.op_type == "DynamicQuantizeLinear":  # not rounded: one step is 1, and 0 is 0
            self._same[leaves[0]] = takes[0]
            self._known[leaves[1]] = torch.ones((), device=self._device)
            self._known[leaves[2]] = torch.zeros((), device=self._device)
            return
        if node.op_type in PREPARED:
            operation = PREPARED[node.op_type](attributes, *[self._known.get(name) for name in takes[1:]])
            takes = takes[:1]
        elif node.op_type in OPERATIONS:
            operation = partial(OPERATIONS[node.op_type], attributes)
        else:
            raise UnknownOperationError(node.op_type)
        if all(name in self._known for name in takes):
            made = operation(*[self._known[name] for name in takes])
            self._known.update(zip(leaves, made if isinstance(made, tuple) else (made,), strict=False))
        else:
            self.steps.append(Step(operation, takes, leaves))


def _tensor(value: onnx.TensorProto) -> Tensor:
    return torch.from_numpy(onnx.numpy_helper.to_array(value).copy())


def _beside(*tensors: Tensor) -> list[Tensor]:
    """All where one of them is that is not on the processor."""
    device = next((tensor.device for tensor in tensors if tensor.device.type != "cpu"), None)
    return list(tensors) if device is None else [tensor.to(device) for tensor in tensors]


def _ints(tensor: Tensor) -> list[int]:
    return [int(number) for number in tensor.flatten().tolist()]


def _each(operation: Callable[..., Tensor]) -> Operation:
    """An operation on numbers at the same place, without attributes."""
    return lambda _, *tensors: operation(*_beside(*tensors))


def _div(_: Attributes, a: Tensor, b: Tensor) -> Tensor:
    a, b = _beside(a, b)
    return torch.div(a, b) if a.is_floating_point() else torch.div(a, b, rounding_mode="trunc")


def _angle(_: Attributes, ratio: Tensor) -> Tensor:
    """Silence has no angle (0 / 0): it counts as 0, where a quantised net would have lost that it is no number."""
    return torch.atan(ratio).nan_to_num(0.0)


def _gather(attributes: Attributes, data: Tensor, which: Tensor) -> Tensor:
    axis = attributes.get("axis", 0) % data.dim()
    picked = data.index_select(axis, which.flatten().to(data.device) % data.shape[axis])
    return picked.reshape([*data.shape[:axis], *which.shape, *data.shape[axis + 1 :]])


def _reshape(_: Attributes, data: Tensor, shape: Tensor) -> Tensor:
    return data.reshape([data.shape[place] if size == 0 else size for place, size in enumerate(_ints(shape))])


def _slice(_: Attributes, data: Tensor, starts: Tensor, ends: Tensor, *more: Tensor) -> Tensor:
    axes = _ints(more[0]) if more else list(range(len(_ints(starts))))
    steps = _ints(more[1]) if len(more) > 1 else [1] * len(axes)
    if min(steps) < 1:
        raise UnknownOperationError("Slice, backwards")
    cut = [slice(None)] * data.dim()
    for axis, start, end, step in zip(axes, _ints(starts), _ints(ends), steps, strict=True):
        cut[axis] = slice(start, end, step)
    return data[tuple(cut)]


def _unsqueeze(_: Attributes, data: Tensor, axes: Tensor) -> Tensor:
    places = _ints(axes)
    for axis in sorted(place % (data.dim() + len(places)) for place in places):
        data = data.unsqueeze(axis)
    return data


def _squeeze(_: Attributes, data: Tensor, axes: Tensor) -> Tensor:
    return data.squeeze(_ints(axes))


def _expand(_: Attributes, data: Tensor, shape: Tensor) -> Tensor:
    return data.expand(torch.broadcast_shapes(data.shape, _ints(shape)))


def _mean(attributes: Attributes, data: Tensor, axes: Tensor) -> Tensor:
    return data.mean(_ints(axes), keepdim=bool(attributes.get("keepdims", 1)))


def _sum(attributes: Attributes, data: Tensor, axes: Tensor) -> Tensor:
    return data.sum(_ints(axes), keepdim=bool(attributes.get("keepdims", 1)))


def _filled(attributes: Attributes, shape: Tensor) -> Tensor:
    return _tensor(attributes["value"]).expand(_ints(shape))


def _normal(attributes: Attributes, data: Tensor, gain: Tensor, bias: Tensor) -> Tensor:
    return functional.layer_norm(data, data.shape[-1:], gain, bias, attributes["epsilon"])


def _skip_normal(attributes: Attributes, data: Tensor, skip: Tensor, gain: Tensor, bias: Tensor) -> Tensor:
    return _normal(attributes, data + skip, gain, bias)


def _fused_matmul(attributes: Attributes, a: Tensor, b: Tensor) -> Tensor:
    a, b = (t.transpose(-1, -2) if attributes.get(f"trans{name}") else t for t, name in ((a, "A"), (b, "B")))
    return attributes.get("alpha", 1.0) * (a @ b)


def _around(attributes: Attributes) -> int:
    """Zeros on either side."""
    before, after = attributes.get("pads", (0, 0))
    if before != after or attributes.get("auto_pad", b"NOTSET") != b"NOTSET":
        raise UnknownOperationError("a convolution with other zeros before than after it")
    return int(before)


def _conv(attributes: Attributes, data: Tensor, weights: Tensor, bias: Tensor | None = None) -> Tensor:
    stride, dilation, groups = attributes["strides"][0], attributes["dilations"][0], attributes["group"]
    return functional.conv1d(data, weights, bias, stride, _around(attributes), dilation, groups)


def _conv_transpose(attributes: Attributes, data: Tensor, weights: Tensor, bias: Tensor | None = None) -> Tensor:
    stride, (more,) = attributes["strides"][0], attributes.get("output_padding", (0,))
    around, groups, dilation = _around(attributes), attributes["group"], attributes["dilations"][0]
    return functional.conv_transpose1d(data, weights, bias, stride, around, more, groups, dilation)


def _reflected(attributes: Attributes, data: Tensor, pads: Tensor) -> Tensor:
    *before, left = _ints(pads)[: data.dim()]
    *after, right = _ints(pads)[data.dim() :]
    if attributes["mode"] != b"reflect" or any((*before, *after)):
        raise UnknownOperationError("Pad, other than the last axis reflected")
    return functional.pad(data, (left, right), mode="reflect")


def _resized(attributes: Attributes, data: Tensor, _: None, scales: Tensor) -> Tensor:
    how = attributes["mode"], attributes["coordinate_transformation_mode"], attributes.get("nearest_mode")
    *_, scale = scales.tolist()
    if how[:2] == (b"linear", b"half_pixel"):
        return functional.interpolate(data, scale_factor=scale, mode="linear", recompute_scale_factor=False)
    if how == (b"nearest", b"asymmetric", b"floor"):
        return functional.interpolate(data, scale_factor=scale, mode="nearest", recompute_scale_factor=False)
    raise UnknownOperationError(f"Resize, {how}")


def _stft(_: Attributes, signal: Tensor, step: Tensor, window: Tensor, length: Tensor) -> Tensor:
    """(items, frames, frequencies, 2)."""
    flat = signal.reshape(signal.shape[0], signal.shape[1])
    made = torch.stft(flat, int(length), int(step), window=window, center=False, return_complex=True)
    return torch.view_as_real(made).transpose(1, 2)


def _scattered(_: Attributes, data: Tensor, where: Tensor, values: Tensor) -> Tensor:
    changed = data.clone()
    changed[tuple(where.to(data.device).unbind(-1))] = values
    return changed


def _integer_conv(attributes: Attributes, weights: Tensor, _: Tensor, zero: Tensor) -> Operation:
    return partial(_conv, attributes, weights=weights.float() - zero.float().reshape(-1, 1, 1))


def _integer_matmul(_: Attributes, weights: Tensor, zero_of_data: Tensor, zero: Tensor) -> Operation:
    restored = weights.float() - zero.float()
    return lambda data: data @ restored


def _lstm(attributes: Attributes, *given: Tensor) -> Operation:
    """Both ways; it begins from nothing, as every utterance does. (time, directions, items, cells)."""
    weights, recurrent, bias, *_, weights_step, weights_zero, recurrent_step, recurrent_zero = given
    cells = attributes["hidden_size"]
    if attributes["direction"] != b"bidirectional":
        raise UnknownOperationError("an LSTM in one direction")
    lstm = torch.nn.LSTM(weights.shape[1], cells, bidirectional=True)
    parts = {
        "weight_ih": _restored(weights, weights_step, weights_zero),
        "weight_hh": _restored(recurrent, recurrent_step, recurrent_zero),
        "bias_ih": bias[:, : 4 * cells],
        "bias_hh": bias[:, 4 * cells :],
    }
    for name, both in parts.items():
        for suffix, one in zip(("_l0", "_l0_reverse"), both, strict=True):
            i, o, f, c = one.split(cells)  # ONNX's order of the gates; torch has another
            getattr(lstm, name + suffix).data = torch.cat((i, f, c, o))
    lstm.to(bias.device).flatten_parameters()

    def run(data: Tensor) -> Tensor:
        made = lstm(data)[0]
        return made.reshape(*made.shape[:2], 2, cells).transpose(1, 2)

    return run


def _restored(weights: Tensor, step: Tensor, zero: Tensor) -> Tensor:
    """What the bytes stand for: (directions, 4 x cells, inputs)."""
    restored = (weights.float() - zero.float().reshape(-1, 1, 1)) * step.reshape(-1, 1, 1)
    return restored.transpose(1, 2)


PREPARED: Mapping[str, Callable[..., Operation]] = {
    "ConvInteger": _integer_conv,
    "MatMulInteger": _integer_matmul,
    "DynamicQuantizeLSTM": _lstm,
}
"""Operations that are got ready once, from everything but the first of what they take."""

OPERATIONS: Mapping[str, Operation] = {
    "Add": _each(torch.add),
    "And": _each(torch.logical_and),
    "Atan": _angle,
    "Cast": lambda a, data: data.to(TYPES[a["to"]]),
    "Clip": lambda _, data, low=None, high=None: torch.clamp(data, low, high),
    "Concat": lambda a, *parts: torch.cat(_beside(*parts), a["axis"]),
    "ConstantOfShape": _filled,
    "Conv": _conv,
    "ConvTranspose": _conv_transpose,
    "Cos": _each(torch.cos),
    "CumSum": lambda _, data, axis: torch.cumsum(data, int(axis)),
    "DequantizeLinear": lambda _, data, step, zero: (data.float() - zero.float()) * step,
    "Div": _div,
    "Equal": _each(torch.eq),
    "Exp": _each(torch.exp),
    "Expand": _expand,
    "FastGelu": lambda _, data, bias: functional.gelu(data + bias, approximate="tanh"),
    "Floor": _each(torch.floor),
    "FusedMatMul": _fused_matmul,
    "Gather": _gather,
    "Greater": _each(torch.gt),
    "GreaterOrEqual": _each(torch.ge),
    "LayerNormalization": _normal,
    "LeakyRelu": lambda a, data: functional.leaky_relu(data, a["alpha"]),
    "Less": _each(torch.lt),
    "MatMul": _each(torch.matmul),
    "Mul": _each(torch.mul),
    "NonZero": lambda _, data: torch.nonzero(data).T,
    "Pad": _reflected,
    "Pow": _each(torch.pow),
    "Range": lambda _, start, end, step: torch.arange(start.item(), end.item(), step.item(), dtype=start.dtype),
    "ReduceMean": _mean,
    "ReduceSum": _sum,
    "Reshape": _reshape,
    "Resize": _resized,
    "Round": _each(torch.round),
    "STFT": _stft,
    "ScatterND": _scattered,
    "Shape": lambda _, data: torch.tensor(data.shape),
    "Sigmoid": _each(torch.sigmoid),
    "Sin": _each(torch.sin),
    "SkipLayerNormalization": _skip_normal,
    "Slice": _slice,
    "Softmax": lambda a, data: functional.softmax(data, a["axis"]),
    "Split": lambda a, data, sizes: torch.split(data, _ints(sizes), a["axis"]),
    "Sqrt": _each(torch.sqrt),
    "Squeeze": _squeeze,
    "Sub": _each(torch.sub),
    "Tanh": _each(torch.tanh),
    "Transpose": lambda a, data: data.permute(*a["perm"]),
    "Unsqueeze": _unsqueeze,
    "Where": lambda _, which, a, b: torch.where(*_beside(which, a, b)),
}
