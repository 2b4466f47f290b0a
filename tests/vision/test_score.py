import pytest

from layout.outline import rectangle
from layout.stock import DefectKind, Where
from vision.marks import Mark
from vision.score import Tally, score_marks, summed


def mark(x0, y0, x1, y1, kind=DefectKind.SOUND_KNOT, name="a"):
    return Mark(id=name, kind=kind, outline=rectangle(x0, y0, x1, y1), where=Where.FRONT)


KNOT = ("knot", rectangle(100, 50, 120, 70))


def test_a_centre_inside_is_a_hit_and_a_third_of_overlap_counts():
    score = score_marks([mark(102, 52, 118, 68)], [KNOT], 1000)
    assert score.by_kind["knot"] == Tally(1, 1, 1)
    assert score.false == 0


def test_a_speck_inside_is_a_hit_without_overlap():
    score = score_marks([mark(108, 58, 112, 62)], [KNOT], 1000)
    assert score.by_kind["knot"] == Tally(1, 1, 0)


def test_a_millimetre_beside_is_still_a_hit_and_two_are_not():
    near = score_marks([mark(116, 55, 125.6, 65)], [KNOT], 1000)  # centre 0.8 mm outside
    far = score_marks([mark(118, 55, 126, 65)], [KNOT], 1000)  # centre 2 mm outside
    assert near.by_kind["knot"].hit == 1
    assert far.by_kind["knot"].hit == 0
    assert far.false == 1


def test_false_marks_are_told_per_metre_and_any_kind_excuses():
    marks = [mark(300, 10, 310, 20), mark(400, 10, 410, 20), mark(105, 55, 115, 65, DefectKind.CHECK)]
    assert score_marks(marks, [KNOT], 500).false_per_metre == pytest.approx(4.0)


def test_only_the_kinds_asked_for_count():
    marks = [mark(300, 10, 310, 20, DefectKind.CHECK), mark(102, 52, 118, 68)]
    score = score_marks(marks, [KNOT], 1000, {DefectKind.SOUND_KNOT})
    assert (score.suggested, score.false) == (1, 0)


def test_scores_add_up_by_kind_and_size():
    one = score_marks([mark(102, 52, 118, 68)], [KNOT], 1000)
    two = score_marks([], [KNOT, ("crack", rectangle(0, 0, 4, 4))], 500)
    total = summed([one, two])
    assert total.metres == pytest.approx(1.5)
    assert total.by_kind == {"knot": Tally(2, 1, 1), "crack": Tally(1, 0, 0)}
    assert total.by_size == {20.0: Tally(2, 1, 1), 0.0: Tally(1, 0, 0)}
    assert total.everything.recall == pytest.approx(1 / 3)


def test_nothing_to_find_is_all_found():
    assert score_marks([], [], 1000).everything.recall == 1.0


def test_sapwood_excuses_no_crack_within_it():
    sapwood = ("sapwood", rectangle(0, 0, 1000, 40))
    crack, border = mark(100, 10, 200, 12, DefectKind.CHECK), mark(0, 0, 1000, 38, DefectKind.SAPWOOD)
    assert score_marks([crack, border], [sapwood], 1000).false == 1


def test_how_far_beside_a_mark_may_lie_can_be_said():
    far = mark(118, 55, 126, 65)
    assert score_marks([far], [KNOT], 1000, slack_mm=3.0).by_kind["knot"].hit == 1
