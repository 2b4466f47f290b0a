"""The page: its steps in the order of the work."""

import streamlit as st

from ui import state
from ui.jobfile import JobError
from ui.steps import boards_step, job_step, layout_step, list_step, marks_step, sheets_step
from ui.steps.frame import STYLE, plain, step_links
from ui.steps.job_step import other_jobs

__all__ = ["run"]


def run() -> None:
    """Draw the step that the address asks for."""
    st.set_page_config(page_title="clearface", layout="wide", initial_sidebar_state="collapsed")
    pages = {
        "Job": st.Page(job_step.show, title="Job", url_path="job", default=True),
        "Cutting list": st.Page(list_step.show, title="Cutting list", url_path="list"),
        "Boards": st.Page(boards_step.show, title="Boards", url_path="boards"),
        "Marks": st.Page(marks_step.show, title="Marks", url_path="marks"),
        "Layout": st.Page(layout_step.show, title="Layout", url_path="layout"),
        "Sheets": st.Page(sheets_step.show, title="Sheets", url_path="sheets"),
    }
    shown = st.navigation(list(pages.values()), position="hidden")
    st.html(STYLE)
    step_links(list(pages.items()))
    try:
        here = state.folder()
        here.session()  # reading it is what makes a spoiled job again
        if spoiled := here.once_spoiled():
            st.warning(plain(spoiled))
        shown.run()
    except JobError as error:  # a job that can't be opened: say why, and show the way to the others
        st.error(plain(str(error)))
        other_jobs(state.job_id())


if __name__ == "__main__":
    run()
