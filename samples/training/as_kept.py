"""Bring an exported net into the form that is kept: any height and width, weights of 16 bits.

    python -m samples.training.as_kept weights.onnx

The exporter writes down the size of the tile that it was shown. The net is convolutions
from end to end, so boards are fed whole, in sides of whole cells (`vision.suggest.learned`);
OpenCV 5 takes that as it comes, and other runtimes want to be told. Weights are kept with 16
bits and widened as they are read: half the file, and the chances move by less than a thousandth.

The first layer reads 8 x 8 pixels of three colours every four pixels, for which runtimes that go through
channels by eights spend thrice what they need: so it is kept as one that reads 2 x 2 cells of four by four
pixels laid one behind the other (`vision.suggest.learned` lays them so), and the last step, which laid four
planes out as pixels, is left to the reader as well. The same sums in another order, in a fifth less time.
A file that is in this form already stays as it is.
"""

import sys
from pathlib import Path

import numpy as np
import onnx
from onnx import helper, numpy_helper

__all__ = ["as_kept"]

_SIDES = {"tile": ("rows", "columns"), "chance": ("rows_half", "columns_half")}
_CELL = 4  # pixels by which the first layer steps
_MANY = 1000  # smaller arrays, the shifts among them, stay as they are


def as_kept(path: Path) -> None:
    """Rewrite the file: names in place of both sides' numbers, large arrays of weights with 16 bits."""
    model = onnx.load(path)
    for told in (*model.graph.input, *model.graph.output):
        for side, name in zip(told.type.tensor_type.shape.dim[2:], _SIDES[told.name], strict=True):
            side.ClearField("dim_value")
            side.dim_param = name
    del model.graph.value_info[:]  # sizes between the layers, of the one tile
    _in_cells(model.graph)
    _halve(model.graph)
    onnx.checker.check_model(model)
    onnx.save(model, path)


def _in_cells(graph: onnx.GraphProto) -> None:
    """Have the first layer read cells and leave out the laying of planes as pixels."""
    channels = graph.input[0].type.tensor_type.shape.dim[1]
    if channels.dim_value != 3:
        return
    first = next(node for node in graph.node if node.input[0] == graph.input[0].name)
    array = next(one for one in graph.initializer if one.name.removesuffix(".half") == first.input[1])
    weight = numpy_helper.to_array(array)
    outside, colours, high, wide = weight.shape
    parts = weight.reshape(outside, colours, high // _CELL, _CELL, wide // _CELL, _CELL)
    folded = parts.transpose(0, 1, 3, 5, 2, 4).reshape(outside, -1, high // _CELL, wide // _CELL)
    array.CopyFrom(numpy_helper.from_array(np.ascontiguousarray(folded), array.name))
    channels.dim_value = folded.shape[1]
    for told in first.attribute:
        sizes = {"kernel_shape": folded.shape[2:], "pads": (0, 0, 0, 0), "strides": (1, 1)}.get(told.name)
        if sizes is not None:
            told.ints[:] = sizes
    laid = next(node for node in graph.node if node.op_type == "DepthToSpace")
    for node in graph.node:
        if laid.output[0] in node.input:
            node.input[:] = [laid.input[0] if name == laid.output[0] else name for name in node.input]
    graph.node.remove(laid)
    planes = graph.output[0].type.tensor_type.shape.dim[1]
    planes.dim_value *= 4


def _halve(graph: onnx.GraphProto) -> None:
    """Keep large arrays of 32 bits with 16, and widen each by a node of its own before it is used."""
    kept, nodes = [], []
    for array in graph.initializer:
        values = numpy_helper.to_array(array)
        if values.dtype != np.float32 or values.size < _MANY:
            kept.append(array)
            continue
        kept.append(numpy_helper.from_array(values.astype(np.float16), f"{array.name}.half"))
        nodes.append(
            helper.make_node("Cast", [f"{array.name}.half"], [array.name], to=onnx.TensorProto.FLOAT)
        )
    whole = [*nodes, *graph.node]
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(kept)
    graph.node.extend(whole)


if __name__ == "__main__":
    as_kept(Path(sys.argv[1]))
