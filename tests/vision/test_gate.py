"""A photograph's own edges may correct its lens, but not where they may bow by themselves."""

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.test_scale import BOWED, Shot, off, shot
from vision.adjust import adjusted
from vision.evidence import Evidence
from vision.gate import gated


def worst(one: Shot, evidence: Evidence | None = None) -> tuple[float, float]:
    """95 % error with the lens left alone and as it was let move [mm]."""
    known = evidence or one.evidence
    frames = adjusted(known, hold_k1=True).frame, gated(known)[0].frame
    alone, made = (float(np.percentile(np.hypot(*off(one, frame).T), 95)) for frame in frames)
    return alone, made


@pytest.mark.parametrize("seed", [3, 8, 13])
def test_an_edge_that_bows_by_itself_does_not_make_the_picture_worse(seed: int) -> None:
    alone, made = worst(shot(seed, 0, 0, 0.0, kind=BOWED[2]))
    assert made <= alone + 0.3


def test_a_lens_that_the_edges_tell_surely_is_corrected() -> None:
    alone, made = worst(shot(1, 0.1, 0.1, -0.1))
    assert made < 0.4 * alone


def test_three_widths_tell_a_bowed_edge_from_a_lens() -> None:
    """With one width these edges say too little; with three read, the rest of the bend is the lens."""
    one = shot(2, 1.05, 0.27, -0.08)
    read = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths))
    assert adjusted(read).spreads["k1"] < adjusted(one.evidence).spreads["k1"]
    assert worst(one, read)[1] < 0.5 * worst(one, read)[0]
