from layout.outline import rectangle
from layout.stock import DefectKind
from vision.suggest.every import within_doubt
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
