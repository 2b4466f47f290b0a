"""The colours stay apart for the colour-blind, and line styles say the same."""

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab

from layout.parts import Visibility
from ui.drawing.fates import Fate
from ui.drawing.palette import FATE_COLOURS, PLATE, SIDE_COLOURS, fate_pen, side_pen

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color
# vision deficiency", IEEE TVCG 15(6), 2009, severity 1.0 (matrices from memory).
SEEN_BY = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.01182, 0.04294, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.3039],
    ],
    "all colours": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
}
JUST_APART = 8.0  # CIEDE2000; 2.3 is just noticeable side by side


def linear(colour: str) -> NDArray[np.float64]:
    values = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def lab(colour: str, eye: str) -> NDArray[np.float64]:
    seen = np.clip(np.array(SEEN_BY[eye]) @ linear(colour), 0, 1)
    coded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    return rgb2lab(coded[None, None, :])[0, 0]


def style(fate: Fate) -> tuple[object, ...]:
    pen = fate_pen(fate, 1.0)
    return pen.width, pen.dash


@pytest.mark.parametrize("eye", list(SEEN_BY))
def test_fates_differ_by_colour_or_by_line(eye):
    for one, other in combinations(Fate, 2):
        apart = float(deltaE_ciede2000(lab(FATE_COLOURS[one], eye), lab(FATE_COLOURS[other], eye)))
        same_meaning = {one, other} == {Fate.CONCEALED, Fate.HIDDEN_BACK}
        assert apart >= JUST_APART or style(one) != style(other) or same_meaning, (one, other, apart)


@pytest.mark.parametrize("eye", list(SEEN_BY))
def test_a_show_side_never_looks_like_a_hidden_one(eye):
    colours = [lab(SIDE_COLOURS[each], eye) for each in (Visibility.SHOW, Visibility.CONCEALED)]
    assert float(deltaE_ciede2000(*colours)) >= JUST_APART
    assert len({side_pen(each, 1.0).dash for each in Visibility}) == 3


@pytest.mark.parametrize("colour", [*SIDE_COLOURS.values(), *FATE_COLOURS.values()])
def test_words_and_numbers_have_contrast(colour):
    """WCAG 2 contrast of 4.5 against the plate behind words, or of white numbers on the colour."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    dark, light = float(linear(colour) @ weights), float(linear(PLATE) @ weights)
    assert (light + 0.05) / (dark + 0.05) >= 4.5
