"""A yard of thousands on the page, and jobs on the shelf that can't be opened."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from layout.placement import Layout, Placement, Unplaced
from tests.ui.tiny_job import tiny_job, tiny_job_folder
from ui import chain, library
from ui.files import JobFolder
from ui.jobfile import VERSION, BoardRecord, Job
from ui.library import shelves
from ui.states import next_thing
from ui.steps.job_step import boards_at_a_glance

MANY = 2000


def yard() -> Job:
    """The tiny job's board, two thousand times."""
    board = tiny_job().boards[0]
    return tiny_job(
        boards=tuple(board.model_copy(update={"id": str(number)}) for number in range(1, MANY + 1))
    )


def _page(step: str) -> None:
    from importlib import import_module

    import_module(f"ui.steps.{step}_step").show()


def _app() -> None:
    from ui.app import run

    run()


@pytest.fixture
def jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    tiny_job_folder(tmp_path / "data" / "jobs" / "tiny")
    return tmp_path / "data" / "jobs"


def opened(step: str, job: str) -> AppTest:
    at = AppTest.from_function(_page, kwargs={"step": step}, default_timeout=60)
    at.query_params["job"] = job
    at.run()
    assert not at.exception, [each.message for each in at.exception]
    return at


def words(at: AppTest) -> str:
    return "\n".join(each.value for kind in (at.markdown, at.error, at.title) for each in kind)


def newer(path: Path) -> None:
    raw = json.loads((path / "job.json").read_text())
    (path / "job.json").write_text(json.dumps({"version": VERSION + 1} | raw | {"version": VERSION + 1}))


def test_what_comes_next_names_a_few_boards() -> None:
    where, why = next_thing(yard())
    assert where == "marks"
    assert why == "Judge the suggestions on board 1, 2, 3, 4, 5, 6 and 1994 more."


def test_the_glance_shows_a_hundred_at_a_time(jobs: Path) -> None:
    JobFolder.created(jobs / "yard", yard())
    at = opened("job", "yard")
    which = next(each for each in at.selectbox if "2000 boards" in each.label)
    assert which.options[:2] == ["1 to 100", "101 to 200"]
    assert which.options[-1] == "1901 to 2000"
    which.select_index(19).run()
    assert not at.exception
    table = boards_at_a_glance(yard(), slice(1900, 2000))
    assert table.count("<tr>") == 101
    assert ">1901<" in table


def test_many_boards_are_found_in_a_list_and_few_in_a_row(jobs: Path) -> None:
    JobFolder.created(jobs / "yard", yard())
    at = opened("marks", "yard")
    which = next(each for each in at.selectbox if each.label == "Board")
    assert len(which.options) == MANY
    assert which.options[:2] == ["Board 1 · 2 to judge", "2 · 2 to judge"]
    which.select_index(1500).run()
    assert not at.exception
    assert "Board 1501:" in words(at)


def test_a_layout_on_very_many_boards_is_sent_to_the_command(jobs: Path) -> None:
    job = yard()
    pieces = tuple(Placement("slat", number, str(number), 60, 60) for number in range(1, 131))
    parts = tuple(replace(part, quantity=130) for part in job.parts if part.name == "slat")
    job = job.model_copy(update={"parts": parts, "layout": Layout(placements=pieces)})
    folder = JobFolder.created(jobs / "yard", job)
    kept = folder.job()  # nobody asks here whether so many pieces hold
    chain._VERDICTS.append(((kept.boards, kept.parts, kept.settings, kept.layout), ()))
    at = opened("sheets", "yard")
    assert "on 130 boards" in words(at)
    assert not at.button
    assert f'clearface sheets "{folder.path}"' in at.code[0].value


def test_of_very_many_parts_without_a_place_the_first_are_told(jobs: Path) -> None:
    missing = tuple(Unplaced("slat", number, "There is no room.") for number in range(1, 301))
    parts = tuple(replace(part, quantity=300) for part in tiny_job().parts if part.name == "slat")
    pieces = tuple(Placement("slat", number, str(number), 60, 60) for number in range(301, 351))
    job = yard().model_copy(update={"parts": parts, "layout": Layout(placements=pieces, unplaced=missing)})
    kept = JobFolder.created(jobs / "yard", job).job()
    chain._VERDICTS.append(((kept.boards, kept.parts, kept.settings, kept.layout), ()))
    at = opened("layout", "yard")
    told = words(at)
    assert "slat 100**: There is no room." in told
    assert "slat 101**" not in told
    assert "And 200 more" in told
    assert "for 50 boards that takes too long here" in told
    assert not [each for each in at.button if "each board add" in each.label]


def test_the_same_layout_is_verified_once_and_a_changed_one_again(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr("ui.chain.violations", lambda *given: asked.append(given) or ())
    job = tiny_job()
    chain.checked(job)
    chain.checked(job.model_copy(update={"name": "renamed"}))
    assert len(asked) == 1
    board: BoardRecord = job.boards[0].model_copy(update={"thickness": 28.0})
    chain.checked(job.model_copy(update={"boards": (board,)}))
    assert len(asked) == 2


def test_a_name_is_read_without_reading_the_job(jobs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = tiny_job(name='a "quoted" nämé \\ of \n two lines')
    JobFolder.created(jobs / "other", job)
    monkeypatch.setattr(library.JobFolder, "job", lambda _: pytest.fail("the whole job was read"))
    assert {shelf.id: shelf.name for shelf in shelves()} == {"other": job.name, "tiny": tiny_job().name}
    assert [shelf.id for shelf in shelves(but="tiny")] == ["other"]


def test_a_job_that_can_not_be_opened_is_on_the_shelf_with_its_reason(jobs: Path) -> None:
    for name, spoil in (("newer", newer), ("torn", lambda path: (path / "job.json").write_bytes(b"{"))):
        spoil(JobFolder.created(jobs / name, tiny_job()).path)
    problems = {shelf.id: shelf.problem for shelf in shelves()}
    assert problems["tiny"] == ""
    assert "update clearface" in problems["newer"]
    assert "not a job file" in problems["torn"]
    told = words(opened("job", "tiny"))
    assert "newer can't be opened:" in told
    assert "update clearface to open it" in told


def test_the_page_says_why_a_job_can_not_be_opened_and_offers_the_others(jobs: Path) -> None:
    path = JobFolder.created(jobs / "newer", tiny_job()).path
    newer(path)
    before = (path / "job.json").read_bytes()
    at = AppTest.from_function(_app, default_timeout=60)
    at.query_params["job"] = "newer"
    at.run()
    assert not at.exception, [each.message for each in at.exception]
    assert "update clearface to open it" in at.error[0].value
    assert any(each.label.startswith("Open ") for each in at.button)
    assert (path / "job.json").read_bytes() == before


def test_what_the_disk_refuses_is_told_as_it_is() -> None:
    def told() -> None:
        from ui.jobfile import JobError
        from ui.serve import _told_plainly

        _told_plainly(JobError("job.json: can't be written (No space left on device)"))
        _told_plainly(ValueError("a fault"))

    first, second = AppTest.from_function(told).run().error
    assert "No space left on device" in first.value
    assert "fault in the program" not in first.value
    assert "fault in the program" in second.value
