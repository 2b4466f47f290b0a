"""A part under a new name: whatever the layout says of it goes along."""

from dataclasses import replace

from layout.glue import GlueKind
from samples.make_linen_chest import chest
from ui.chain import checked, planned
from ui.jobfile import KeptLayout
from ui.list_ops import renamed


def test_staves_layers_repairs_and_words_go_by_the_new_name() -> None:
    whole = chest()
    few = {"lid", "leg", "front rail"}
    job = whole.model_copy(
        update={
            "parts": tuple(replace(part, quantity=1) for part in whole.parts if part.name in few),
            "boards": whole.boards[:3],
        }
    )
    layout = planned(job, iterations=5)
    assert layout.repairs
    assert {up.kind for up in layout.glue_ups} == {GlueKind.PANEL, GlueKind.LAYERS}
    job = job.model_copy(update={"layout": layout, "kept": (KeptLayout(name="first", layout=layout),)})
    new = {part.name: f"other {number}" for number, part in enumerate(job.parts)}
    for old in list(job.parts):
        job = renamed(job, old.name, replace(old, name=new[old.name]))
    assert checked(job) == ()
    assert job.layout is not None
    assert job.kept[0].layout == job.layout
    named = {item.part for item in job.layout.placements} | {item.part for item in job.layout.repairs}
    named |= {item.part for item in job.layout.unplaced}
    named |= {stave.part for up in job.layout.glue_ups for stave in up.staves}
    assert all(name.startswith("other ") for name in named)
    for repair in job.layout.repairs:
        assert not any(f" {old_name} " in repair.alternative for old_name in new)
    assert job.layout.cost == layout.cost
