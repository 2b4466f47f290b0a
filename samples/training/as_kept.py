"""Bring an exported net into the form that is kept: any height and width, weights of 16 bits.

    python -m samples.training.as_kept weights.onnx

The exporter writes down the size of the tile that it was shown. The net is convolutions
from end to end, so boards are fed whole, in sides of whole cells (`vision.suggest.learned`);
OpenCV 5 takes that as it comes, and other runtimes want to be told. Weights are kept with 16
bits and widened as they are read: half the file, and the chances move by less than a thousandth.
"""

import sys
from pathlib import Path

import numpy as np
import onnx
from onnx import helper, numpy_helper

__all__ = ["as_kept"]

_SIDES = {"tile": ("rows", "columns"), "chance": ("rows_mm", "columns_mm")}
_MANY = 1000  # smaller arrays, the shifts among them, stay as they are


def as_kept(path: Path) -> None:
    """Rewrite the file: names in place of both sides' numbers, large arrays of weights with 16 bits."""
    model = onnx.load(path)
    for told in (*model.graph.input, *model.graph.output):
        for side, name in zip(told.type.tensor_type.shape.dim[2:], _SIDES[told.name], strict=True):
            side.ClearField("dim_value")
            side.dim_param = name
    del model.graph.value_info[:]  # sizes between the layers, of the one tile
    _halve(model.graph)
    onnx.checker.check_model(model)
    onnx.save(model, path)


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
