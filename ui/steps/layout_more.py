"""Beside the layout: what found no place and why, repairs, glue-ups, what to buy, other layouts."""

import streamlit as st

from layout.placement import Layout
from ui import state
from ui.drawing.measures import Tape
from ui.drawing.pieces import copy_marks, listed
from ui.drawing.repair_steps import repair_steps
from ui.jobfile import Job, JobError, KeptLayout
from ui.lengths import length_text
from ui.report import buying_list, compared, money
from ui.steps.frame import plain, save
from ui.yard import board_worths

__all__ = ["buying_panel", "compare_panel", "glue_ups_panel", "not_placed", "repairs_panel"]


_MOST_REASONS = 100  # shown of parts without a place
_MOST_LEFT_OUT = 40  # boards left out in turn, a plan of a second and a half each


def not_placed(job: Job) -> None:
    """Every copy without a place, and why."""
    missing = _layout(job).unplaced
    if not missing:
        return
    st.subheader("Not placed, and why", anchor=False)
    st.markdown(
        "\n".join(
            f"- **{plain(item.part)} {item.copy}**: {plain(item.reason)}" for item in missing[:_MOST_REASONS]
        )
    )
    if len(missing) > _MOST_REASONS:
        st.markdown(f"And {len(missing) - _MOST_REASONS} more; `clearface plan` lists them all.")


def repairs_panel(job: Job) -> None:
    """Each repair beside what would be done without it."""
    layout = _layout(job)
    if not layout.repairs:
        return
    parts, mark = listed(job.parts, job.settings, layout), copy_marks(job.parts, layout)
    tape = Tape(job.units, 1.0 if job.units == "mm" else 25.4 / 16)
    st.subheader(f"Repairs: {len(layout.repairs)}", anchor=False)
    for one in layout.repairs:
        chalked = mark(one.part, one.copy)
        price = plain(money(one.cost, job.currency))
        with st.expander(f"{one.kind.value} in {chalked} {plain(one.part)}, {one.side.value}: {price}"):
            left, right = st.columns(2)
            with left:
                st.markdown("**With the repair**")
                st.markdown(
                    "\n".join(
                        f"1. {plain(step)}" for step in repair_steps(one, parts[one.part], chalked, tape)
                    )
                )
                for caution in one.cautions:
                    st.markdown(f"⚠ {plain(caution)}")
            with right:
                st.markdown("**Without it**")
                st.markdown(plain(one.alternative) or "No other way was worked out.")


def glue_ups_panel(job: Job) -> None:
    """What is glued up, and from which pieces in which order."""
    layout = _layout(job)
    if not layout.glue_ups:
        return
    mark = copy_marks(job.parts, layout)
    st.subheader("Glued up", anchor=False)
    for one in layout.glue_ups:
        pieces = ", ".join(
            f"{mark(stave.part, stave.copy)} ({length_text(stave.size, job.units)})" for stave in one.staves
        )
        st.markdown(f"- **{mark(one.part, one.copy)} {plain(one.part)}**, {one.kind.value}: {plain(pieces)}")
        for caution in one.cautions:
            st.markdown(f"  ⚠ {plain(caution)}")


def buying_panel(job: Job) -> None:
    """Which boards to buy, and what each is worth to the plan."""
    with st.expander("Which boards to buy"):
        rows = buying_list(job)
        if not rows:
            st.markdown("None: every board used is yours already.")
        st.markdown("\n".join(f"- **Board {plain(board)}**: {plain(words)}" for board, words in rows))
        if len(job.boards) < 2:
            return
        used = len(_layout(job).boards_used)
        if used > _MOST_LEFT_OUT:
            st.markdown(
                f"What each board adds is found by planning without it: for {used} boards that takes too "
                f"long here ({_MOST_LEFT_OUT} at most)."
            )
            return
        st.markdown("Each board left out in turn, and the rest planned again, shows what it adds.")
        if st.button("What does each board add?"):
            bar = st.progress(0.0, text="Planning without each board in turn")
            worths = board_worths(job, on_step=lambda share: bar.progress(share))
            state.note("worths", (job.revision, worths))
        told = state.note("worths")
        if told and told[0] == job.revision:
            for board, words in told[1]:
                st.markdown(f"- Board {plain(board)}: {plain(words)}")


def compare_panel(job: Job) -> None:
    """Put the layout aside, compare it with others, go back to one."""
    with st.expander("Keep this layout, and compare"):
        usual = f"layout {len(job.kept) + 1}"
        name = st.text_input("Keep it under the name", value=usual, key=f"keep-{len(job.kept)}")
        st.button("Keep it", on_click=_keep, args=(name,), disabled=not name.strip())
        if not job.kept:
            return
        st.html(compared(job))
        for kept in job.kept:
            with st.container(horizontal=True):
                st.button(
                    f"Go back to {plain(kept.name)}",
                    key=f"back-{kept.name}",
                    on_click=_back_to,
                    args=(kept.name,),
                )
                st.button(
                    f"Drop {plain(kept.name)}",
                    key=f"drop-{kept.name}",
                    on_click=_drop_kept,
                    args=(kept.name,),
                )


def _keep(name: str) -> None:
    def change(job: Job) -> Job:
        if name.strip() in {kept.name for kept in job.kept}:
            raise JobError(f"a layout called {name.strip()!r} is kept already; give another name")
        kept = KeptLayout(name=name.strip(), layout=_layout(job))
        return job.model_copy(update={"kept": (*job.kept, kept)})

    save(f"keep {name}", change)


def _back_to(name: str) -> None:
    def change(job: Job) -> Job:
        found = [kept.layout for kept in job.kept if kept.name == name]
        if not found:
            raise JobError(f"{name} is gone: it was dropped in another window")
        return job.model_copy(update={"layout": found[0]})

    save(f"go back to {name}", change)


def _drop_kept(name: str) -> None:
    save(
        f"drop {name}",
        lambda job: job.model_copy(update={"kept": tuple(kept for kept in job.kept if kept.name != name)}),
    )


def _layout(job: Job) -> Layout:
    if job.layout is None:
        raise JobError("there is no layout any more; plan again")
    return job.layout
