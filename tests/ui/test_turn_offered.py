"""A board said to be turned over the wrong way: the pictures of its faces speak, and the maker decides."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from layout.stock import Face, Turn
from ui.board_fields import turned_typed
from ui.changes import edit_between
from ui.files import JobFolder
from ui.library import folder_of
from ui.sample import sample_shelf
from ui.surface_ops import replaced_board
from ui.surveying import survey_face


def _page() -> None:
    from ui.steps.boards_step import show

    show()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobFolder:
    """The sample job, its first board said to be turned over the other way and its back surveyed so."""
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    kept = folder_of(sample_shelf())
    job = kept.job()
    said = turned_typed(job.boards[0], Turn.TUMBLED.value, job)
    kept.do(edit_between(job, replaced_board(job, said), "turned"))
    survey_face(kept, "1", Face.BACK)
    return kept


def _shown(folder: JobFolder) -> AppTest:
    at = AppTest.from_function(_page, default_timeout=60)
    at.query_params["job"] = folder.path.name
    at.run()
    assert not at.exception, [each.message for each in at.exception]
    return at


def _press(at: AppTest, label: str) -> None:
    next(each for each in at.button if each.label == label).click()
    at.run()
    assert not at.exception, [each.message for each in at.exception]


def _words(at: AppTest) -> str:
    return "\n".join(each.value for each in at.markdown)


def test_the_right_turn_is_offered_until_it_is_taken(folder: JobFolder) -> None:
    before = folder.job().board("1")
    assert (before.turned, before.turn_offered) == (Turn.TUMBLED, Turn.ROLLED)
    at = _shown(folder)
    assert "rolled over its long edge, not tumbled" in _words(at)
    _press(at, "It was rolled")
    after = folder.job().board("1")
    assert (after.turned, after.turn_offered) == (Turn.ROLLED, None)
    assert "rolled over its long edge, not tumbled" not in _words(at)


def test_a_maker_who_is_sure_is_not_asked_again(folder: JobFolder) -> None:
    at = _shown(folder)
    _press(at, "No, it was tumbled")
    after = folder.job().board("1")
    assert (after.turned, after.turn_offered) == (Turn.TUMBLED, None)
    assert "rolled over its long edge" not in _words(at)
