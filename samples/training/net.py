"""The net: a small fully-convolutional segmenter that looks far along the grain and little across it."""

import torch
from torch import Tensor, nn

__all__ = ["CLASSES", "FINE", "LARGE", "SMALL", "TILE", "MarkNet"]

CLASSES = ("knot", "crack", "pocket", "stain", "pith", "sapwood", "wane")
TILE = (128, 512)  # rows, columns of the tile learned from, a half at a time, and exported [mm]
FINE = 2  # pixels per millimetre that go in; one comes out
SMALL = (32, 56, 80, 120)  # channels at 2, 4, 8 and 16 mm: of the net that is kept ...
LARGE = (48, 96, 192, 256)  # ... and of the one it learns from


def _conv(inside: int, outside: int, size: tuple[int, int] = (3, 3), stride: int = 1) -> nn.Sequential:
    pad = (size[0] // 2, size[1] // 2)
    return nn.Sequential(
        nn.Conv2d(inside, outside, size, stride, pad, bias=False),
        nn.BatchNorm2d(outside),
        nn.ReLU(inplace=True),
    )


class _Along(nn.Module):
    """Context along the grain: a long thin convolution and a tall one, added to what came in."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.long = _conv(width, width, (1, 11))  # not 9: OpenCV 5.0 takes any nine taps for 3 x 3
        self.tall = _conv(width, width, (5, 1))
        self.mix = _conv(width, width, (3, 3))

    def forward(self, x: Tensor) -> Tensor:
        return x + self.mix(self.long(x) + self.tall(x))


class MarkNet(nn.Module):
    """Probabilities (before the logistic function) of each class at each pixel.

    Input [n, 3, 2 x rows, 2 x columns], two pixels per millimetre: RGB divided by
    the board's median colour, less one. Output [n, classes, rows, columns], one
    pixel per millimetre.
    """

    def __init__(self, widths: tuple[int, int, int, int] = SMALL) -> None:
        super().__init__()
        a, b, c, d = widths
        self.stem = nn.Sequential(
            nn.Conv2d(3, a, 8, stride=4, padding=2, bias=False), nn.BatchNorm2d(a), nn.ReLU(inplace=True)
        )
        self.one = _conv(a, a)
        self.two = nn.Sequential(_conv(a, b, stride=2), _conv(b, b))
        self.three = nn.Sequential(_conv(b, c, stride=2), _conv(c, c), _Along(c))
        self.four = nn.Sequential(_conv(c, d, stride=2), _Along(d), _Along(d))
        self.up_three = _conv(d + c, c)
        self.up_two = _conv(c + b, b)
        self.up_one = _conv(b + a, a)
        self.head = nn.Conv2d(a, 4 * len(CLASSES), 1)
        nn.init.constant_(self.head.bias, -4.0)

    def forward(self, x: Tensor) -> Tensor:
        one = self.one(self.stem(x))
        two = self.two(one)
        three = self.three(two)
        four = self.four(three)
        up = self.up_three(torch.cat([_double(four), three], 1))
        up = self.up_two(torch.cat([_double(up), two], 1))
        up = self.up_one(torch.cat([_double(up), one], 1))
        return nn.functional.pixel_shuffle(self.head(up), 2)


def _double(x: Tensor) -> Tensor:
    return nn.functional.interpolate(x, scale_factor=2.0, mode="nearest")
