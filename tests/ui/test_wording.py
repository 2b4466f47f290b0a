"""Counting in words."""

import pytest

from ui.wording import counted


@pytest.mark.parametrize(("number", "said"), [(0, "no marks"), (1, "1 mark"), (5, "5 marks")])
def test_one_and_many(number, said):
    assert counted(number, "mark") == said
