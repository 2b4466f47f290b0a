"""How long all sheets of a workshop's job take: 12 boards with photographs on both faces, 60 parts."""

import time

import pytest

from layout.stock import Face
from tests.ui.drawing.jobs import grain_picture, large_job
from ui.drawing.sheets import FacePicture, sheets

# Processor seconds, all cores together: what one core would take, however busy the machine is.
pytestmark = [pytest.mark.bench, pytest.mark.benchmark(timer=time.process_time)]


def test_all_sheets_of_a_large_job(benchmark):
    job = large_job()
    pictures = {
        (board.id, face): FacePicture(grain_picture(board.length, board.width, 2.0), 2.0)
        for board in job.boards
        for face in Face
    }
    files = benchmark.pedantic(
        lambda: sheets(job.boards, job.parts, job.shop, job.layout, pictures=pictures, title="large"),
        rounds=3,
    )
    assert len(job.boards) == 12
    assert len(job.layout.placements) == 60
    assert len([name for name in files if name.endswith(".png")]) == 24
