"""Say in an exported net that its tile may have any height and width, as its layers allow.

    python -m samples.training.any_size weights.onnx

The exporter writes down the size of the tile that it was shown. The net is convolutions
from end to end, so boards are fed whole, in sides of whole cells (`vision.suggest.learned`);
OpenCV 5 takes that as it comes, and other runtimes want to be told.
"""

import sys
from pathlib import Path

import onnx

__all__ = ["any_size"]

_SIDES = {"tile": ("rows", "columns"), "chance": ("rows_mm", "columns_mm")}


def any_size(path: Path) -> None:
    """Rewrite the file with names in place of both sides' numbers, weights untouched."""
    model = onnx.load(path)
    for told in (*model.graph.input, *model.graph.output):
        for side, name in zip(told.type.tensor_type.shape.dim[2:], _SIDES[told.name], strict=True):
            side.ClearField("dim_value")
            side.dim_param = name
    del model.graph.value_info[:]  # sizes between the layers, of the one tile
    onnx.checker.check_model(model)
    onnx.save(model, path)


if __name__ == "__main__":
    any_size(Path(sys.argv[1]))
