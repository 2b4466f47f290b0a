"""The chest: each odd board gives its part only with one kind of repair; the lid comes out of one board."""

from pathlib import Path

import pytest

from layout.check import violations
from layout.glue import GlueKind, RepairKind
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from samples.make_linen_chest import chest
from ui.jobfile import boards_of, job_from

FOLDER = Path(__file__).resolve().parents[2] / "samples" / "linen_chest"
FEW = SolveParams(iterations=80, prove=False)


def test_the_folder_holds_what_the_maker_script_makes() -> None:
    assert job_from((FOLDER / "job.json").read_text(encoding="utf-8")) == chest()


@pytest.mark.parametrize(
    ("board", "part", "kind"),
    [
        ("3", "front rail", RepairKind.PATCH),
        ("4", "bottom rail", RepairKind.SLICE),
        ("5", "tray side", RepairKind.FILLER),
        ("6", "bearer", RepairKind.SPLICE),
        ("7", "batten", RepairKind.EDGE_STRIP),
    ],
)
def test_each_odd_board_forces_its_kind_of_repair(board: str, part: str, kind: RepairKind) -> None:
    job = chest()
    only = [found for found in boards_of(job) if found.id == board]
    wanted = [found for found in job.parts if found.name == part]
    layout = plan(only, wanted, job.settings, FEW)
    assert [repair.kind for repair in layout.repairs] == [kind]
    assert violations(only, wanted, job.settings, layout) == ()


def test_the_lid_comes_out_of_one_board_and_the_legs_of_layers() -> None:
    job = chest()
    boards = boards_of(job)[:2]
    parts = [part for part in job.parts if part.name in ("lid", "leg")]
    layout = plan(boards, parts, job.settings, FEW)
    assert violations(boards, parts, job.settings, layout) == ()
    assert layout.unplaced == ()
    staves = {stave.part for up in layout.glue_ups if up.kind is GlueKind.PANEL for stave in up.staves}
    assert len({item.board for item in layout.placements if item.part in staves}) == 1
    assert sum(up.kind is GlueKind.LAYERS for up in layout.glue_ups) == 4
