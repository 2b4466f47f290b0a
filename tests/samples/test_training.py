import numpy as np
import pytest

from samples.wood.picture import WoodClass
from samples.wood.training import training_picture, training_pictures

FAULTS = (
    WoodClass.SOUND_KNOT, WoodClass.DEAD_KNOT, WoodClass.PIN_KNOT, WoodClass.CHECK, WoodClass.SPLIT,
    WoodClass.SHAKE, WoodClass.PITH, WoodClass.BARK_POCKET, WoodClass.RESIN_POCKET, WoodClass.STAIN,
)  # fmt: skip


@pytest.mark.parametrize("seed", range(6))
def test_hard_negatives_have_no_fault(seed: int) -> None:
    picture = training_picture(seed, 128, 384, clear=True)
    assert picture.clear
    assert not np.isin(picture.classes, FAULTS).any()
    assert picture.rgb.shape == (128, 384, 3)
    assert picture.rgb.std() > 3


def test_pictures_with_faults_show_most_kinds() -> None:
    seen = set()
    for seed in range(14):
        seen |= set(np.unique(training_picture(seed, 160, 400, clear=False).classes).tolist())
    assert len(seen & set(FAULTS)) >= 6


def test_knots_differ_from_the_wood_round_them() -> None:
    """The label lies on something that can be seen."""
    told = []
    for seed in range(12):
        picture = training_picture(seed, 160, 400, species="maple", clear=False)
        knot = np.isin(picture.classes, (WoodClass.SOUND_KNOT, WoodClass.DEAD_KNOT))
        if knot.sum() > 60:
            clear = picture.classes == WoodClass.CLEAR
            told.append(picture.rgb[clear].mean() - picture.rgb[knot].mean())
    assert len(told) >= 3
    assert np.median(told) > 15


def test_same_seed_same_picture() -> None:
    one, two = training_picture(3, 128, 256), training_picture(3, 128, 256)
    assert np.array_equal(one.rgb, two.rgb)
    assert np.array_equal(one.classes, two.classes)
    stream = training_pictures(40)
    first, second = next(stream), next(stream)
    assert not np.array_equal(first.rgb, second.rgb)
