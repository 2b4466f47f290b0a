"""All sheets of a job."""

import cv2
import numpy as np

from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from ui.drawing.sheets import sheets


def test_the_files_of_a_job():
    files = sheets([tiny_board()], tiny_parts(), tiny_shop(), tiny_layout(), title="tiny")
    wanted = {"parts.csv", "cuts.csv", "board-1-front.png", "board-1-back.svg"}
    assert wanted <= set(files)
    decoded = cv2.imdecode(np.frombuffer(files["board-1-front.png"], np.uint8), cv2.IMREAD_COLOR)
    assert decoded.shape[1] >= 3200


def test_the_same_job_gives_the_same_bytes():
    job = ([tiny_board()], tiny_parts(), tiny_shop(), tiny_layout())
    assert sheets(*job) == sheets(*job)
