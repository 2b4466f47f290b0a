import pytest

from layout.outline import bounds_of, rectangle
from layout.stock import DefectKind, Where
from vision.marks import Mark, MarkState
from vision.pairs import paired


def mark(name, where, x, y, size=16.0, kind=DefectKind.SOUND_KNOT, high=None, **rest):
    high = size if high is None else high
    outline = rectangle(x - size / 2, y - high / 2, x + size / 2, y + high / 2)
    return Mark(id=name, kind=kind, outline=outline, where=where, score=0.9, **rest)


def test_a_knot_straight_through_is_offered_once_and_goes_right_through():
    pairing = paired([mark("f", Where.FRONT, 300, 60)], [mark("b", Where.BACK, 304, 58)], 27)
    (through,) = pairing.offered
    assert through.where is Where.THROUGH
    assert through.depth is None
    assert through.state is MarkState.PENDING
    assert bounds_of(through.outline) == pytest.approx((292, 50, 312, 68))
    assert pairing.depth_of(pairing.pairs[0].front) == (27, 27)
    assert pairing.pairs[0].lean == pytest.approx((4, -2))


def test_a_leaning_knot_is_joined_and_the_ground_between_belongs_to_it():
    (pair,) = paired([mark("f", Where.FRONT, 300, 60)], [mark("b", Where.BACK, 320, 60)], 30).pairs
    assert bounds_of(pair.through.outline) == pytest.approx((292, 52, 328, 68))


def test_knots_too_far_apart_for_any_branch_stay_two():
    pairing = paired([mark("f", Where.FRONT, 300, 60)], [mark("b", Where.BACK, 345, 60)], 27)
    assert pairing.pairs == ()
    assert {one.id for one in pairing.offered} == {"f", "b"}
    assert pairing.depth_of(pairing.alone[0]) == (0.0, 27)


def test_a_pin_knot_is_not_the_other_end_of_a_large_one():
    assert not paired([mark("f", Where.FRONT, 300, 60, 30)], [mark("b", Where.BACK, 300, 60, 3)], 27).pairs


def test_each_mark_has_one_partner_and_the_likeliest_whole_wins():
    front = [mark("f1", Where.FRONT, 300, 60), mark("f2", Where.FRONT, 322, 60)]
    back = [mark("b1", Where.BACK, 308, 60), mark("b2", Where.BACK, 331, 60)]
    pairing = paired(front, back, 30)
    assert [(pair.front.id, pair.back.id) for pair in pairing.pairs] == [("f1", "b1"), ("f2", "b2")]


def test_a_split_is_joined_along_its_length_and_keeps_the_worse_name():
    front = [mark("f", Where.FRONT, 60, 80, 120, DefectKind.SPLIT, 3)]
    back = [mark("b", Where.BACK, 50, 86, 100, DefectKind.CHECK, 3)]
    (pair,) = paired(front, back, 27).pairs
    assert pair.through.kind is DefectKind.SPLIT


def test_a_knot_and_a_check_are_never_one():
    back = [mark("b", Where.BACK, 300, 60, 40, DefectKind.CHECK, 3)]
    assert not paired([mark("f", Where.FRONT, 300, 60)], back, 27).pairs


def test_dismissed_marks_are_left_alone():
    front = [mark("f", Where.FRONT, 300, 60, state=MarkState.DISMISSED)]
    pairing = paired(front, [mark("b", Where.BACK, 300, 60)], 27)
    assert pairing.pairs == ()
    assert len(pairing.alone) == 2


def test_nothing_pairs_with_nothing():
    assert paired([], [mark("b", Where.BACK, 300, 60)], 27).pairs == ()


@pytest.mark.parametrize("thickness", [0.0, -3.0, float("nan")])
def test_a_board_without_thickness_is_refused(thickness):
    with pytest.raises(ValueError, match="thickness"):
        paired([], [], thickness)
