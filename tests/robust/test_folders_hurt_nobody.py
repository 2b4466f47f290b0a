"""What lies beside the job and was spoiled there: a value, one sentence, or as if it were not there."""

import json
import random
from pathlib import Path

import pytest

from tests.robust.answers import sentence
from tests.robust.jobs import files_of_full_job, full_job, spoiled
from tests.robust.mutations import damaged
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from tests.robust.stage import _judge, _mark, _undo
from ui import files
from ui.catalogue import _is_done, _place
from ui.files import SURVEYS, JobFolder, data_folder
from ui.jobfile import JobError
from ui.library import last_job, shelves
from ui.session import Action, Step
from ui.yard_list import Row, rows_of

LIST = '''number,length,width,thickness,species,price,turned,front,back
A1,2400,210,27,oak,40,rolled,a.jpg,b.jpg
A2,"94 1/2""",8",34,ash,"55,50",tumbled,a.jpg,
7;,1.2 m,20 cm,,,,,c.jpg,
'''
ODD = [b"1e999", b"nan", b"-5", b'"', b"\x00", b"\xff\xfe", b",,,,", b"\t", b";", b"../x.jpg", b"9" * 40]


@few_or_many(300)
def test_damaged_lists_of_a_yard(cases: int) -> None:
    chance = seeded(101)
    read = 0
    with grown_mb(100):
        for case in range(cases):
            data = damaged(LIST.encode(), chance, ODD)
            if chance.random() < 0.5:
                cells = LIST.encode().split(b",")
                cells[chance.randrange(len(cells))] = chance.choice(ODD)
                data = b",".join(cells)
            with hang_after(HANG, f"case {case}"):
                try:
                    rows = rows_of(data.decode("utf-8", "replace"))
                except JobError as error:
                    sentence(error)
                    continue
                except Exception as error:
                    pytest.fail(f"case {case}: {error!r} from {data!r}")
            assert all(0 < row.length <= 20_000 and row.price >= 0 for row in rows)
            read += 1
    assert 0 < read < cases


@pytest.fixture
def worked_on(tmp_path: Path) -> JobFolder:
    folder = JobFolder.created(tmp_path / "job", full_job(), files_of_full_job())
    for number in range(12):
        random.Random(number).choice((_mark, _judge, _undo))(folder, random.Random(number), str(number))
    return folder


@few_or_many(60)
def test_a_damaged_journal_never_takes_the_job_with_it(
    cases: int, worked_on: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The job opens as it stands; of its undo whatever is still whole is left, and it can be gone on with."""
    monkeypatch.setattr("ui.disk.os.fsync", lambda _: None)
    chance = seeded(102)
    path = worked_on.path / files.JOURNAL
    good, job = path.read_bytes(), worked_on.job()
    text = (worked_on.path / files.JOB).read_bytes()
    lines = good.splitlines()
    with grown_mb(100):
        for case in range(cases):
            if chance.random() < 0.5:
                at = chance.randrange(len(lines))
                line = json.dumps(spoiled(json.loads(lines[at]), chance)).encode()
                data = b"\n".join([*lines[:at], line, *lines[at + 1 :], b""])
            else:
                data = damaged(good, chance, lines)
            path.write_bytes(data)
            (worked_on.path / files.JOB).write_bytes(text)
            files._CACHE.clear()
            with hang_after(HANG, f"case {case}"):
                try:
                    assert worked_on.job() == job
                    for action in (Action.UNDO, Action.REDO):
                        for note in worked_on.take(lambda _, action=action: [Step(action)]).notes:
                            sentence(ValueError(note), 310)
                    _mark(worked_on, random.Random(case), f"after{case}")
                    files._CACHE.clear()
                    assert worked_on.job().board("1").marks[-1].id == f"after{case}"
                except JobError as error:
                    sentence(error, 310)
                except Exception as error:
                    pytest.fail(f"case {case}: {error!r} from {data[-600:]!r}")


@few_or_many(200)
def test_a_damaged_note_of_a_survey_is_a_board_to_do_again(cases: int, tmp_path: Path) -> None:
    chance = seeded(103)
    row = Row("A1", 1000.0, 200.0, "a.jpg")
    (tmp_path / SURVEYS).mkdir()
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "a.jpg").write_bytes(b"x")
    record = json.loads(full_job().boards[1].model_dump_json())
    good = {"of": "mark", "record": record, "files": ["pictures/a.jpg"], "notes": ["front: a note"]}
    done = 0
    for case in range(cases):
        told = good if case == 0 else spoiled(good, chance)
        data = json.dumps(told).encode()
        _place(tmp_path, row).write_bytes(data if chance.random() < 0.7 else damaged(data, chance, [data]))
        try:
            done += _is_done(tmp_path, row, "mark")
        except Exception as error:
            pytest.fail(f"case {case}: {error!r} from {told}")
    assert 0 < done < cases


@few_or_many(200)
def test_a_damaged_list_of_jobs_is_an_empty_one(
    cases: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    chance = seeded(104)
    folder = JobFolder.created(tmp_path / "job", full_job())
    good = {"last": "job-12345678", "elsewhere": {"job-12345678": str(folder.path)}}
    data_folder().mkdir(parents=True)
    found = 0
    for case in range(cases):
        data = json.dumps(good if case == 0 else spoiled(good, chance)).encode()
        if case and chance.random() < 0.4:
            data = damaged(data, chance, [data])
        (data_folder() / "known.json").write_bytes(data)
        try:
            found += len(shelves())
            last_job()
        except Exception as error:
            pytest.fail(f"case {case}: {error!r} from {data!r}")
    assert 0 < found < cases
