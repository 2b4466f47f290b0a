"""Counting in words."""

import pytest

from ui.wording import counted, named


@pytest.mark.parametrize(("number", "said"), [(0, "no marks"), (1, "1 mark"), (5, "5 marks")])
def test_one_and_many(number, said):
    assert counted(number, "mark") == said


def test_of_many_names_the_first_are_said():
    assert named(["1", "2"]) == "1, 2"
    assert named([str(number) for number in range(1, 7)]) == "1, 2, 3, 4, 5, 6"
    assert named([str(number) for number in range(1, 2001)]) == "1, 2, 3, 4, 5, 6 and 1994 more"
