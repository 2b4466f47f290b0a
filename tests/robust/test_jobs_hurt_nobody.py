"""Whatever stands in a job file: a job that can be worked with and written again, or one sentence."""

import copy
import json
from pathlib import Path

import pytest

from layout.errors import LayoutError
from layout.outline import normal_outline
from layout.records import Plan, from_record, record
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.robust.answers import sentence
from tests.robust.jobs import ODD_VALUES, full_job, spoiled
from tests.robust.mutations import damaged
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from ui.edits import written
from ui.jobfile import Job, JobError, boards_of, job_from, job_json, with_known_rules

GOOD = job_json(full_job())


def opened(text: str | bytes) -> Job | str:
    """The job, proved fit to be worked with, or the sentence it was refused with."""
    try:
        job = job_from(text)
    except JobError as error:
        said = sentence(error)
        assert said.startswith("job.json: ")
        return said
    again = job_json(job)
    assert job_json(job_from(again)) == again, "written and read, it is another job"
    boards_of(job)
    for part in job.parts:
        written(with_known_rules(part))
    return job


def test_the_job_itself_opens() -> None:
    assert opened(GOOD) == full_job()


def tried(text: str | bytes, case: int) -> bool:
    with hang_after(HANG, f"case {case}"):
        try:
            return not isinstance(opened(text), str)
        except Exception as error:
            pytest.fail(f"case {case}: {error!r} from {difference(text)}")


def difference(text: str | bytes) -> str:
    """The lines that are not in the good job, for the report."""
    lines = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    good = set(GOOD.splitlines())
    return " | ".join(line.strip() for line in lines.splitlines() if line not in good)[:500]


@few_or_many(300)
def test_jobs_with_a_value_spoiled(cases: int) -> None:
    chance = seeded(41)
    raw = json.loads(GOOD)
    with grown_mb(200):
        read = sum(tried(json.dumps(spoiled(raw, chance), indent=1), case) for case in range(cases))
    assert cases / 20 < read < cases


@few_or_many(500)
def test_damaged_job_files(cases: int) -> None:
    chance = seeded(42)
    others = [json.dumps(value).encode() for value in ODD_VALUES[:-3]]
    with grown_mb(200):
        read = sum(tried(damaged(GOOD.encode(), chance, others), case) for case in range(cases))
    assert 0 <= read < cases


@few_or_many(400)
def test_records_with_a_value_spoiled(cases: int) -> None:
    """The other form of a layout on paper, read without pydantic."""
    chance = seeded(43)
    good = record(Plan((tiny_board(),), tiny_parts(), tiny_shop(), tiny_layout()))
    for case in range(cases):
        raw = spoiled(good, chance)
        with hang_after(HANG, f"case {case}"):
            try:
                plan = from_record(Plan, raw)
            except LayoutError as error:
                sentence(error, 600)  # it may show a number of 400 figures
            except Exception as error:
                pytest.fail(f"case {case}: {error!r}")
            else:
                assert from_record(Plan, record(plan)) == plan


@few_or_many(1500)
def test_outlines_of_any_points(cases: int) -> None:
    """Crossing, tiny, in one line, out of all measure: an outline with area, or a sentence."""
    chance = seeded(44)
    numbers = [
        0.0,
        -0.0,
        1.0,
        1.0,
        2.0,
        50.0,
        1e-9,
        1e-160,
        1e160,
        1e308,
        -1e308,
        float("inf"),
        float("nan"),
        -3.5,
    ]
    for case in range(cases):
        some = [chance.choice(numbers) if chance.random() < 0.6 else chance.gauss(0, 100) for _ in range(24)]
        points = [tuple(chance.choice(some) for _ in range(2)) for _ in range(chance.randrange(0, 12))]
        with hang_after(HANG, f"case {case}"):
            try:
                outline = normal_outline(points)
            except ValueError as error:
                sentence(error)
            except Exception as error:
                pytest.fail(f"case {case}: {error!r} from {points}")
            else:
                assert normal_outline(outline) == outline
                assert normal_outline(reversed(outline)) == outline


DEEP = 100_000


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "7", '"job"', "{", "{}", '{"version": 1}', "[" * DEEP, '{"a":' * DEEP, "\ufeff{}",
     "NaN", '{"version": 1e999}', '{"version": ' + "9" * 5000 + "}", '{"version": "1"}', "\ud800"],
    ids=range(16),
)  # fmt: skip
def test_files_that_are_no_jobs(text: str) -> None:
    assert isinstance(opened(text), str)
    assert isinstance(opened(text.encode("utf-8", "surrogatepass")), str)


@pytest.mark.parametrize(
    "data", [b"\xff\xfe{}", b"\x00" * 100, GOOD.encode("utf-16"), GOOD.encode("cp1252") + b"\xff"]
)
def test_files_that_are_no_text(data: bytes) -> None:
    assert isinstance(opened(data), str)


def test_the_message_names_the_place() -> None:
    raw = json.loads(GOOD)
    broken = copy.deepcopy(raw)
    broken["parts"][1]["length"] = -3
    assert (
        opened(json.dumps(broken))
        == "job.json: part 2 'slat': part slat: length is -3.0; give a number above 0 (mm)"
    )


FOUND = sorted((Path(__file__).parent / "found" / "jobs").glob("*.json"))


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.stem)
def test_what_once_broke_it(path: Path) -> None:
    opened(path.read_text())
