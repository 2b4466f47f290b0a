"""What every step has: the way through the steps, notes at the top, fields that save as they are left."""

from collections.abc import Callable, Sequence

import streamlit as st

from ui import state
from ui.changes import edit_between
from ui.edits import Edit
from ui.jobfile import Job, JobError

__all__ = ["STYLE", "choice_field", "heading", "plain", "save", "step_links", "switch_field", "text_field"]

_FORMATTING = "\\`*_[]<>#!|$~"

STYLE = """
<style>
  [data-testid="stMainBlockContainer"] { padding: 1rem 1rem 4rem; max-width: 1500px; }
  [data-testid="stHeader"] { background: transparent; height: 0; }
  .stButton button, .stDownloadButton button { min-height: 44px; }
  a[data-testid="stPageLink-NavLink"] { min-height: 40px; padding: 4px 8px; }
  /* Why a file is refused stands in a tooltip, which no finger can call up: say it where it is. */
  [data-testid="stFileChip"] { flex-wrap: wrap; height: auto; max-width: none; }
  [data-testid="stFileChip"] [role="alert"] {
    position: static; width: auto; height: auto; margin: 0; clip: auto; clip-path: none; overflow: visible;
    white-space: normal; font-size: 14px; flex-basis: 100%;
  }
  h1 { font-size: 1.55rem !important; padding: 0.2rem 0 !important; }
  h2 { font-size: 1.25rem !important; }
  .cf-table { border-collapse: collapse; width: 100%; }
  .cf-table th, .cf-table td { text-align: left; padding: 5px 9px; vertical-align: top; }
  .cf-table tr { border-bottom: 1px solid #c9c6bd; }
  .cf-scroll { overflow-x: auto; }
  @media (max-width: 560px) {
    [data-testid="stMainBlockContainer"] { padding: .4rem .6rem 5rem; }
    a[data-testid="stPageLink-NavLink"] { padding: 4px 5px; }
    a[data-testid="stPageLink-NavLink"] p { font-size: 14px; }
    [data-testid="stHorizontalBlock"]:has([data-testid="stPageLink"]) { gap: 1px; }
    .cf-table th, .cf-table td { padding: 5px 5px; font-size: 15px; }
  }
</style>
"""


def heading(title: str, text: str = "") -> None:
    """The step's title, what was left to be said, and a sentence on what is done here."""
    st.title(plain(title), anchor=False)
    with st.container():
        for sentence, bad in state.said():
            (st.error if bad else st.success)(plain(sentence))
    if text:
        st.markdown(text)


def plain(text: str) -> str:
    """A text of the maker's own, so that nothing in it is taken for formatting."""
    return "".join(f"\\{letter}" if letter in _FORMATTING else letter for letter in text)


def step_links(pages: Sequence[tuple[str, st.Page]]) -> None:
    """Links to the steps, in the order of the work."""
    with st.container(horizontal=True, gap="small"):
        for label, page in pages:
            st.page_link(page, label=label, query_params={"job": state.job_id()})


def save(label: str, change: Callable[[Job], Job]) -> bool:
    """Bring a change of the job to disk; whether it was taken."""

    def make(job: Job) -> Edit:
        try:
            return edit_between(job, change(job), label)
        except JobError:
            raise
        except ValueError as error:
            raise JobError(str(error)) from error

    return state.changed(make)


def text_field(
    label: str,
    current: str,
    key: str,
    change: Callable[[Job, str], Job],
    *,
    help: str | None = None,
    placeholder: str | None = None,
) -> None:
    """A field that is on disk as soon as it is left; a mistake is shown under it and the old value stays.

    Parameters
    ----------
    label, current : str
    key : str
        One for each field of the page.
    change : callable
        The job with what was typed; ValueError says what is wrong with it.
    """
    mistake = state.note(f"mistake-{key}") or ("", "")
    widget = f"{key}={current}"

    def left() -> None:
        typed = str(state.typed(widget))
        problem = _tried(f"{label}: {typed}", lambda job: change(job, typed))
        if problem:
            state.note(f"mistake-{key}", (typed, problem))
        else:
            state.forget(f"mistake-{key}")

    st.text_input(
        label,
        value=mistake[0] or current,
        key=widget,
        on_change=left,
        help=help,
        placeholder=placeholder,
    )
    if mistake[1]:
        st.markdown(f":red[**{label}:** {plain(mistake[1])}]")


def choice_field(
    label: str,
    options: Sequence[str],
    current: str,
    key: str,
    change: Callable[[Job, str], Job],
    *,
    help: str | None = None,
) -> None:
    """A choice that is on disk as soon as it is made."""
    widget = f"{key}={current}"

    def made() -> None:
        chosen = str(state.typed(widget))
        save(f"{label}: {chosen}", lambda job: change(job, chosen))

    st.selectbox(label, options, index=list(options).index(current), key=widget, on_change=made, help=help)


def switch_field(label: str, current: bool, key: str, change: Callable[[Job, bool], Job]) -> None:
    """A tick that is on disk as soon as it is set."""
    widget = f"{key}={current}"

    def made() -> None:
        chosen = bool(state.typed(widget))
        save(f"{label}: {'yes' if chosen else 'no'}", lambda job: change(job, chosen))

    st.checkbox(label, value=current, key=widget, on_change=made)


def _tried(label: str, change: Callable[[Job], Job]) -> str:
    """What was wrong with a change; "" if it is on disk."""
    problem = ""

    def make(job: Job) -> Edit:
        nonlocal problem
        try:
            return edit_between(job, change(job), label)
        except ValueError as error:
            problem = str(error)
            return Edit(label, ())

    state.changed(make)
    return problem
