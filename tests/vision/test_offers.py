"""What a further reading is said to bring is what it brings once it is read."""

import re
from dataclasses import replace

import pytest

from tests.bench.test_scale import BOWED, shot
from vision.contradict import contradiction
from vision.evidence import Evidence
from vision.gate import gated
from vision.offers import offer, worst_error
from vision.ticks import LINE_PX


def told(evidence: Evidence, width: float) -> list[float]:
    said = offer(evidence, gated(evidence), width)
    return [float(number) for number in re.findall(r"(\d+\.\d) mm", said or "")]


@pytest.mark.parametrize("seed", [3, 6])
def test_what_is_offered_is_what_the_reading_brings(seed: int) -> None:
    one = shot(seed, 0.5, 0.3)
    now, by_widths, by_lines = told(one.evidence, one.width)
    with_widths = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths))
    lines = replace(one.evidence.readings, ticks=one.ticks, ticks_px=(LINE_PX,) * 3)
    with_lines = replace(one.evidence, readings=lines)
    assert now == pytest.approx(worst_error(gated(one.evidence)[0], one.length, one.width), abs=0.1)
    assert by_widths == pytest.approx(worst_error(gated(with_widths)[0], one.length, one.width), rel=0.4)
    assert by_lines == pytest.approx(worst_error(gated(with_lines)[0], one.length, one.width), rel=0.4)
    assert now > by_widths > by_lines


def test_a_reading_that_is_only_to_rule_out_a_bow_promises_no_figure() -> None:
    one = shot(5, 0.5, 0.3)
    now, by_lines = told(one.evidence, one.width)
    assert now > by_lines
    said = offer(one.evidence, gated(one.evidence), one.width) or ""
    assert "before cutting, read its width at both ends and in the middle, or draw" in said


def test_the_middle_width_is_asked_for_where_a_bow_may_pass_for_the_lens() -> None:
    one = shot(20_039, 0, 0, 0.0003, kind=BOWED[4])
    said = offer(one.evidence, gated(one.evidence), one.width) or ""
    assert "before cutting, read its width at both ends and in the middle" in said
    read = replace(one.evidence, readings=replace(one.evidence.readings, widths=one.widths))
    assert "a bow of the board" not in (offer(read, gated(read), one.width) or "")
    sure = shot(1, 0.1, 0.1, -0.1)  # bent more than any board is bowed
    assert "a bow of the board" not in (offer(sure.evidence, gated(sure.evidence), sure.width) or "")


def test_a_board_that_has_its_lines_is_offered_nothing_it_has() -> None:
    one = shot(3, 0.5, 0.3)
    readings = replace(
        one.evidence.readings, widths=one.widths, ticks=one.ticks, ticks_px=(LINE_PX,) * len(one.ticks)
    )
    assert not told(replace(one.evidence, readings=readings), one.width)


def test_a_line_misread_is_named_and_by_how_much() -> None:
    one = shot(3, 0.5, 0.3)
    place, reading = one.ticks[1]
    ticks = (one.ticks[0], (place, reading + 25.0), one.ticks[2])
    readings = replace(
        one.evidence.readings, widths=one.widths, ticks=ticks, ticks_px=(LINE_PX,) * len(ticks)
    )
    evidence = replace(one.evidence, readings=readings)
    said = contradiction(evidence, gated(evidence)[0]) or ""
    assert said.startswith(f"the line read at {reading + 25.0:g} mm is seen at ")
    seen = float(said.split("seen at ")[1].split(" mm")[0])
    assert seen == pytest.approx(reading, abs=5.0)
    fine = replace(one.evidence, readings=replace(readings, ticks=one.ticks))
    assert contradiction(fine, gated(fine)[0]) is None
