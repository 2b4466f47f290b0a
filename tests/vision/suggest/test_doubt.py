import pytest

from layout.outline import rectangle
from layout.stock import DefectKind
from vision.suggest.every import _without_doubles, within_doubt
from vision.suggest.found import Found


def found(*scores):
    return [Found(DefectKind.SOUND_KNOT, rectangle(9 * i, 0, 9 * i + 5, 5), s) for i, s in enumerate(scores)]


def scores_of(kept):
    return [one.score for one in kept]


def test_sure_marks_always_stay():
    assert scores_of(within_doubt(found(0.95, 0.99, 0.9), 1000, 0.5)) == [0.99, 0.95, 0.9]


def test_doubt_adds_up_over_the_board_and_the_faintest_go_first():
    assert scores_of(within_doubt(found(0.6, 0.9, 0.7, 0.8), 1000, 0.5)) == [0.9, 0.8]


def test_a_longer_board_may_carry_more_doubt():
    assert scores_of(within_doubt(found(0.6, 0.9, 0.7, 0.8), 2000, 0.5)) == [0.9, 0.8, 0.7, 0.6]


def test_what_is_likelier_wrong_than_right_needs_a_maker_who_asks_for_more():
    assert within_doubt(found(0.3), 5000, 1.0) == []
    assert scores_of(within_doubt(found(0.3), 5000, 2.0)) == [0.3]


def test_no_doubt_allowed_leaves_only_certainty():
    assert scores_of(within_doubt(found(1.0, 0.99), 1000, 0.0)) == [1.0]


STREAKS = (DefectKind.STAIN, DefectKind.PITH)
KNOT = rectangle(200, 40, 220, 60)


def kinds_left(*named):
    return {one.kind for one in _without_doubles([Found(kind, ring, score) for kind, ring, score in named])}


@pytest.mark.parametrize("streak", STREAKS)
@pytest.mark.parametrize("other", [DefectKind.DEAD_KNOT, DefectKind.RESIN_POCKET])
@pytest.mark.parametrize("scores", [(0.6, 0.99), (0.99, 0.6)])
def test_what_lies_amid_a_longer_streak_is_there_beside_it(streak, other, scores):
    long = rectangle(100, 35, 400, 65)
    assert kinds_left((streak, long, scores[0]), (other, KNOT, scores[1])) == {streak, other}


@pytest.mark.parametrize("streak", STREAKS)
@pytest.mark.parametrize("scores", [(0.6, 0.99), (0.99, 0.6)])
def test_a_streak_that_is_mostly_something_else_is_another_name_for_it(streak, scores):
    surer = streak if scores[0] > scores[1] else DefectKind.DEAD_KNOT
    for ring in (rectangle(195, 38, 225, 62), rectangle(204, 44, 216, 56)):
        assert kinds_left((streak, ring, scores[0]), (DefectKind.DEAD_KNOT, KNOT, scores[1])) == {surer}


def test_half_of_the_smaller_one_makes_two_knots_or_two_streaks_one():
    within = rectangle(203, 43, 212, 52)
    assert kinds_left((DefectKind.DEAD_KNOT, KNOT, 0.9), (DefectKind.RESIN_POCKET, within, 0.7)) == {
        DefectKind.DEAD_KNOT
    }
    long, short = rectangle(100, 35, 400, 65), rectangle(150, 40, 250, 60)
    assert kinds_left((DefectKind.STAIN, long, 0.9), (DefectKind.PITH, short, 0.7)) == {DefectKind.STAIN}
