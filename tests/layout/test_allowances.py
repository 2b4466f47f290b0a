from dataclasses import replace

import pytest

from layout.allowances import Allowances, Shop, sawn_length, sawn_width
from tests.builders import tiny_parts, tiny_shop


def test_sawn_sizes_take_the_job_s_allowance_or_the_part_s_own() -> None:
    rail, allowances = tiny_parts()[0], tiny_shop().allowances
    assert (sawn_length(rail, allowances), sawn_width(rail, allowances)) == (430, 64)
    exact = replace(rail, length_allowance=0, width_allowance=6)
    assert (sawn_length(exact, allowances), sawn_width(exact, allowances)) == (420, 66)


def test_what_a_shop_cannot_be() -> None:
    with pytest.raises(ValueError, match="allowance kerf is -3; give 0 or more"):
        Allowances(kerf=-3)
    with pytest.raises(ValueError, match="allowance end_trim is inf"):
        Allowances(end_trim=float("inf"))
    with pytest.raises(ValueError, match="stages is 4; give 2 or 3"):
        Shop(stages=4)
