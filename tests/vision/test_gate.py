"""A photograph's own edges may correct its lens, but not where they may bow by themselves."""

from dataclasses import replace

import numpy as np

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


def test_edges_that_bow_by_themselves_seldom_make_the_picture_worse() -> None:
    """Lenses that bend nothing at all, so that every correction is wrong: let free, nearly all do harm."""
    shots = [shot(seed, 0, 0, 0.0, kind=BOWED[2]) for seed in range(3, 15)]
    harm = [made - alone for alone, made in map(worst, shots)]
    assert sum(each > 0.3 for each in harm) <= 3
    free = [
        float(np.percentile(np.hypot(*off(one, adjusted(one.evidence).frame).T), 95)) - worst(one)[0]
        for one in shots
    ]
    assert sum(each > 0.3 for each in free) > sum(each > 0.3 for each in harm)


def test_a_lens_that_the_edges_tell_surely_is_corrected() -> None:
    alone, made = worst(shot(1, 0.1, 0.1, -0.1))
    assert made < 0.4 * alone


def test_three_widths_tell_a_bowed_edge_from_a_lens() -> None:
    """With one width these edges say too little; with three read, the rest of the bend is the lens."""
    one = shot(2, 1.05, 0.27, -0.08)
    read = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths))
    assert adjusted(read).spreads["k1"] < adjusted(one.evidence).spreads["k1"]
    assert worst(one, read)[1] < 0.5 * worst(one, read)[0]


def test_with_the_middle_width_a_bow_is_not_taken_for_a_lens() -> None:
    """A board bowed in both edges, and a lens that bends nothing: by two edges alone it looks like one."""
    one = shot(20_039, 0, 0, 0.0003, kind=BOWED[4])
    alone, made = worst(one)
    assert made > alone + 3.0
    assert gated(one.evidence).bow_alike
    ends = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths[::2]))
    assert gated(ends).bow_alike
    read = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths))
    alone, made = worst(one, read)
    assert made < alone + 0.3
    assert not gated(read).bow_alike
