"""Boards shared out to several processes: the same answers, whoever gives them."""

import pickle
import subprocess
from collections.abc import Callable, Mapping, Sequence
from math import inf
from random import Random
from time import monotonic, sleep

import numpy as np
import pytest

from layout.allowances import Sawing
from layout.solve.by_area import known_by_area
from layout.solve.careful_board import CarefulBoards, Grid, Question, Task
from layout.solve.construct import Draft, draft_from
from layout.solve.hands import Hands, keep_ready
from layout.solve.job import job_of
from layout.solve.laid_out import laid_out, laid_out_of
from layout.solve.near_slabs import Priced, near_slabs
from layout.solve.packed import Packed
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.priced import MOST, Slabs
from layout.solve.prover import Prover
from layout.solve.search import searched
from layout.solve.setwise import SetBySet
from layout.solve.slabs import Place
from layout.solve.spares import Spares
from layout.solve.steps import MOST_COPIES, Sharing, Work, others_at_most, sharing, work_beside
from layout.solve.stop import Stop
from tests.bench.jobs import Case, a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop
from tests.layout.solve.test_setwise import money_of

GRID = Grid((30.0, 5.0), 0.0)


def in_time(done: Callable[[], bool], seconds: float = 60.0) -> bool:
    until = monotonic() + seconds
    while not done() and monotonic() < until:
        sleep(0.02)
    return done()


def task_of(case: Case) -> Task:
    held: list[tuple[()]] = [()] * len(case.boards)
    known = known_by_area(case.boards, case.parts, [part.quantity for part in case.parts], held)
    return Task(case.boards, case.parts, case.shop, known.most, held)


def questions_of(case: Case) -> list[Question]:
    prices = tuple(1 + int(part.length * part.width / 5_000) for part in case.parts)
    return [Question(GRID, board, "worth", (prices,)) for board in range(len(case.boards))]


def test_who_answers_makes_no_difference() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    task, questions = task_of(case), questions_of(case)
    alone = Hands(task)
    answers = alone.asked(questions, inf)
    assert alone.count == 1
    assert any(worth for worth, _ in answers)
    both = Hands(task, 1)
    try:
        assert in_time(lambda: both.count == 2), "the other process never was ready"
        assert both.asked(questions, inf) == answers
        assert both.asked([], inf) == []
        whole = questions[0].told[0]
        most, loss = task.most[0], int(0.1 * answers[0][0])
        near = [Question(GRID, board, "near", (whole, most, loss)) for board in range(len(case.boards))]
        for one, other in zip(both.asked(near, inf), alone.asked(near, inf), strict=True):
            assert (one.counts == other.counts).all()
            assert (one.losses == other.losses).all()
    finally:
        both.let_go()
    assert both.count == 1
    assert both.asked(questions, inf) == answers


def test_both_have_their_share() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    hands, questions = Hands(task_of(case), 1), questions_of(case)
    try:
        assert in_time(lambda: hands.count == 2)
        dealt = hands._dealt(questions, [None, *hands._others])
        assert sorted(number for some in dealt for number in some) == list(range(len(questions)))
        assert all(dealt)
    finally:
        hands.let_go()


def test_a_grid_is_made_by_one_and_handed_on_to_the_other() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    hands, questions = Hands(task_of(case), 1), questions_of(case)
    try:
        assert in_time(lambda: hands.count == 2)
        (other,), boards = hands._others, range(len(case.boards))
        answers = hands.asked(questions, inf)
        assert all(hands._own.given(GRID, board) is not None for board in boards), "the other kept its grids"
        there = {board for _, board in other.has}
        assert there
        assert there < set(boards)
        other.ask(questions, hands._own, inf)
        again = [other.answer() for _ in questions]
        assert [one.what for one in again if one] == answers
        assert all(one is not None and one.made is None for one in again), "made anew"
        assert len(other.has) == len(boards)
    finally:
        hands.let_go()


@pytest.mark.parametrize("killed", [False, True])
def test_who_is_free_looks_for_the_next_sets_and_lays_them_out(killed: bool) -> None:
    case = a_case("medium", 2, Sawing.RIP_FIRST)
    task, questions = task_of(case), questions_of(case)
    whole, alone, hands = questions[0].told[0], Hands(task), Hands(task, 1)
    try:
        assert in_time(lambda: hands.count == 2)
        (other,) = hands._others
        worths = hands.asked(questions, inf)
        loss = int(0.03 * max(worth for worth, _ in worths))
        near = [Question(GRID, q.board, "near", (whole, task.most[q.board], loss)) for q in questions]
        if killed:
            other._process.kill()
        found, known = hands.asked(near, inf), alone.asked(near, inf)
        for one, same in zip(found, known, strict=True):
            assert (one.counts == same.counts).all()
        looked = {key[1]: hand for key, hand in hands._kept.items()}
        assert set(looked) == set(range(len(questions)))
        assert killed or {*looked.values()} == {None, other}
        laid = [
            Question(GRID, q.board, "laid", (whole, tuple(one.counts[0].tolist())))
            for q, one in zip(near, found, strict=True)
            if len(one.losses)
        ]
        assert len(laid) > 2
        if not killed:
            dealt = hands._dealt(laid, [None, other])
            assert [{looked[laid[n].board] for n in some} for some in dealt] == [{None}, {other}]
        assert hands.asked(laid, inf) == alone.asked(laid, inf)
    finally:
        hands.let_go()


def test_a_process_that_ends_leaves_no_question_open() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    task, questions = task_of(case), questions_of(case)
    hands = Hands(task, 1)
    try:
        assert in_time(lambda: hands.count == 2)
        hands._others[0]._process.kill()
        assert hands.asked(questions, inf) == Hands(task).asked(questions, inf)
        assert in_time(lambda: hands.count == 1)
    finally:
        hands.let_go()


def test_what_is_too_much_is_said_of_either_process() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    dear = [Question(GRID, board, "worth", ((MOST,) * len(case.parts),)) for board in range(len(case.boards))]
    hands = Hands(task_of(case), 1)
    try:
        assert in_time(lambda: hands.count == 2)
        with pytest.raises(OverflowError, match="choose prices"):
            hands.asked(dear, inf)
        # No answer is left over that would be taken for one to the next question.
        assert hands.asked(questions_of(case), inf) == Hands(task_of(case)).asked(questions_of(case), inf)
    finally:
        hands.let_go()


def test_a_further_process_ends_with_its_input() -> None:
    spares = Spares("layout.solve.hands")
    spares.keep(1)
    try:
        assert in_time(spares.are_ready)
        process = spares.taken()
        assert process is not None
        assert spares.taken() is None, "taken twice"
        assert process.stdin is not None
        pickle.dump(task_of(a_case("tiny", 1)), process.stdin)
        process.stdin.close()
        assert process.wait(30.0) == 0
        assert process.stdout is not None
        process.stdout.close()
    finally:
        spares.end()


def test_as_many_are_kept_as_were_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    spares = Spares("layout.solve.hands")
    monkeypatch.setattr("layout.solve.hands._spares", spares)
    keep_ready(1)
    keep_ready(1)
    try:
        assert in_time(spares.are_ready)
        assert len(spares._waiting) == 1
        hands = Hands(task_of(a_case("tiny", 1)), 1)
        assert hands.count == 2, "one that waits is ready at once"
        assert not spares.are_ready()
        hands.let_go()
        spares.keep(1)
        spares._waiting[0].process.kill()
        assert in_time(lambda: spares._waiting[0].process.poll() is not None)
        assert spares.taken() is None, "one that has ended is of no use"
        spares.keep(1)
        assert in_time(spares.are_ready)
    finally:
        spares.end()
    assert not spares.are_ready()


def test_without_a_further_process_boards_are_asked_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def none_to_be_had(*_: object, **__: object) -> None:
        raise OSError("no further process")

    monkeypatch.setattr(subprocess, "Popen", none_to_be_had)
    case = a_case("tiny", 1, Sawing.RIP_FIRST)
    assert Hands(task_of(case), 2).asked(questions_of(case), inf)
    spares = Spares("layout.solve.hands")
    spares.keep(2)
    assert spares.taken() is None


def test_prices_keep_every_board_below_the_most() -> None:
    """Whatever they are: no more of a board can be sawn out than its area."""
    case = a_case("medium", 3, Sawing.RIP_FIRST)
    sets = SetBySet(
        case.boards, case.parts, case.shop, [part.quantity for part in case.parts], lambda _: None
    )
    sets._work.until = inf
    grids, chance = sets._setwise._grids[0], np.random.default_rng(4)
    worths = []
    for _ in range(6):
        prices = chance.random(len(case.parts)) ** 3
        for boards, whole in (
            (range(3), grids.whole_of(prices, range(3))),
            (None, grids.whole(prices, (), 0)),
        ):
            asked = range(len(case.boards)) if boards is None else boards
            worths += [worth for worth, _ in grids.worths(asked, 0, whole)]
            assert boards is None or min(whole) >= 1
    assert max(worths) <= MOST
    assert max(worths) > MOST / 10, "prices so low tell hardly anything"


def test_a_set_near_the_best_prices_is_laid_out_of_the_slabs_it_was_made_of() -> None:
    case = a_case("medium", 2, Sawing.RIP_FIRST)
    boards = CarefulBoards(task_of(case))
    whole = questions_of(case)[0].told[0]
    laid = 0
    for board in range(len(case.boards)):
        worth, _ = boards.answer(Question(GRID, board, "worth", (whole,)), inf).what
        if not worth:
            continue
        most = boards._task.most[board]
        asked = Question(GRID, board, "near", (whole, most, int(0.06 * worth)))
        near = boards.answer(asked, inf).what
        slabs: Slabs = boards._made[GRID, board]._slabs
        priced, packed = Priced(slabs, whole), Packed(most)
        known = near_slabs(priced, packed, priced.worth - int(0.06 * worth))
        assert known is not None
        for counts in [tuple(row) for row in near.counts[:5].tolist()]:
            found = laid_out_of(priced.without_table(), packed, known, counts)
            assert found is not None
            assert laid_out(slabs, counts, whole) is not None
            assert tuple(np.bincount([t for t, _, _ in found], minlength=len(counts))) == counts
            assert all(slabs.field.places[t][i, j] for t, i, j in found)
            places = boards.answer(Question(GRID, board, "laid", (whole, counts)), inf).what
            assert sorted(t for t, _, _ in places) == sorted(t for t, _, _ in found)
            laid += 1
    assert laid > 5


def test_plans_are_the_same_however_many_ask() -> None:
    case = a_case("small", 1, Sawing.RIP_FIRST)
    wanted = [part.quantity for part in case.parts]
    found: list[list[Mapping[int, Sequence[Place]]]] = []
    for others in (0, 1):
        found.append([])
        sets = SetBySet(case.boards, case.parts, case.shop, wanted, found[-1].append, others=others)
        assert in_time(lambda: sets._work.hands.count == 1 + others)  # noqa: B023 - asked at once
        sets.look_soon(60.0)
        sets.let_go()
        assert sets._work.hands.count == 1
    assert found[0]
    assert [money_of(case, plan) for plan in found[0]] == [money_of(case, plan) for plan in found[1]]


def test_who_asks_no_board_begins_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.setwise._MOST_PAIRS", 0)
    case = a_case("tiny", 1, Sawing.RIP_FIRST)
    wanted = [part.quantity for part in case.parts]
    sets = SetBySet(case.boards, case.parts, case.shop, wanted, lambda _: None, others=1)
    sets.look_soon(5.0)
    assert not sets._work.hands._others


def test_how_boards_are_shared_out() -> None:
    def shared(copies: int, cores: int, seconds: float = 10.0, **rest: bool) -> Sharing:
        here = {"listed": False, "repairs": False, "loaded": True} | rest
        work = work_beside(Sawing.RIP_FIRST, copies, seconds, cores=cores, **here)
        return sharing(work, copies, cores=cores, **here)

    many = MOST_COPIES + 1
    assert shared(many, 2) == shared(many, 3) == Sharing(1, waits=True)
    assert shared(many, 2, loaded=False) == Sharing()
    assert shared(many, 2, listed=True) == shared(many, 2, repairs=True) == Sharing()
    assert shared(MOST_COPIES, 8) == Sharing()
    assert shared(many, 4) == shared(many, 4, loaded=False) == Sharing(1)
    assert shared(many, 16) == Sharing(others_at_most(16))
    assert shared(many, 2, 2.0) == Sharing(1, waits=True)
    assert shared(many, 8, 2.0, loaded=False) == shared(many, 8, 1.0) == Sharing(), "nothing is asked then"
    assert [others_at_most(cores) for cores in (1, 2, 3, 4, 64)] == [1, 1, 1, 2, 2]


def test_the_search_is_asked_to_wait_until_plans_soon_found_are_told() -> None:
    steps = ((Work.QUICK, 20.0),)
    beside = Prover([tiny_board()], tiny_parts(), tiny_shop(), (), [steps], shares=Sharing(1, waits=True))
    try:
        assert beside.is_waited_for
        beside.listen(0, [b"soon"])
        assert not beside.is_waited_for
    finally:
        beside.close()
    ended = Prover([tiny_board()], tiny_parts(), tiny_shop(), (), [], shares=Sharing(1, waits=True))
    assert not ended.is_waited_for, "nobody is left to wait for"


@pytest.mark.parametrize("told", [True, False])
def test_the_search_takes_what_it_is_told_while_it_waits(told: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """It has made its first drafts by then."""
    case = a_case("small", 1)
    good = plan(case.boards, case.parts, case.shop, SolveParams(iterations=300, prove=False))
    job = job_of(case.boards, case.parts, case.shop)
    first = draft_from(job, good.placements)
    asked, drafts = list[int](), list[int]()

    def dense(*_: object) -> Draft:
        assert not asked
        drafts.append(1)
        return Draft(list(job.wanted))

    monkeypatch.setattr("layout.solve.search._dense_draft", dense)
    monkeypatch.setattr("layout.solve.search._in_turns", lambda *_, **__: None)

    def waits() -> bool:
        asked.append(1)
        return len(asked) < 5

    def heard(below: float) -> Draft | None:
        assert below > good.cost or len(asked) > 3
        return first if told and len(asked) == 3 else None

    stop = Stop(SolveParams(iterations=50))
    draft = searched(job, stop, Random(0), lambda _: None, None, None, heard, waits)
    assert len(asked) == 5
    assert drafts
    assert (draft.money(job) <= good.cost + 0.005) == told
