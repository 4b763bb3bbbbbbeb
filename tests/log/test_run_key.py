"""Runs named by the key that started them: a tablet goes on with a run before it has a number."""

from __future__ import annotations

import pytest

from server.log.events import LogEvent, ScrapPiece
from server.log.readings import TakeReading
from server.log.runs import CutAgain, FinishRun, StartRun
from tests.shop import Shop


@pytest.fixture
def plan(shop: Shop) -> tuple[int, int, int, int]:
    """build, operation, dimension, piece"""
    build = shop.build()
    part = shop.part(build)
    operation = shop.operation(part, 10)
    return build, operation, shop.dimension(part, operation_number=10), shop.piece(part)


def test_everything_of_a_run_may_name_it_by_the_key_that_started_it(
    shop: Shop, plan: tuple[int, int, int, int]
) -> None:
    _, operation, bore, piece = plan
    run = shop.do(StartRun, key="first", operation_id=operation, pieces=[{"piece_id": piece}])["run_id"]
    shop.do(TakeReading, run_key="first", piece_id=piece, dimension_id=bore, value="24.9")
    shop.do(LogEvent, run_key="first", kind="note", text="rang")
    again = shop.do(CutAgain, key="second", run_key="first")["run_id"]
    shop.do(TakeReading, run_key="second", piece_id=piece, dimension_id=bore, value="25.01")
    shop.do(ScrapPiece, run_key="second", piece_id=piece, text="dropped")
    shop.do(FinishRun, run_key="second", outcome="broken off")
    assert again != run
    with shop.database.read() as connection:
        assert connection.exec_driver_sql("SELECT run_id FROM reading ORDER BY id").scalars().all() == [run, again]
        assert connection.exec_driver_sql("SELECT run_id FROM event ORDER BY id").scalars().all() == [run, again]
        assert connection.exec_driver_sql("SELECT run_id, outcome FROM run_end ORDER BY id").fetchall() == [
            (run, "finished"),
            (again, "broken off"),
        ]


@pytest.mark.parametrize("action", [CutAgain, FinishRun])
def test_a_key_that_started_no_run_names_none(
    shop: Shop, plan: tuple[int, int, int, int], action: type[CutAgain | FinishRun]
) -> None:
    shop.do(LogEvent, key="note", kind="note", text="x", build_id=plan[0])
    for key in ("never", "note"):
        problem = shop.refused(action, run_key=key)
        assert (problem.field, problem.why) == ("run_key", "no run was started with this key")
    assert shop.refused(action).field == "run_id"


def test_a_run_is_named_once(shop: Shop, plan: tuple[int, int, int, int]) -> None:
    _, operation, bore, piece = plan
    run = shop.do(StartRun, key="k", operation_id=operation, pieces=[{"piece_id": piece}])["run_id"]
    assert shop.refused(FinishRun, run_id=run, run_key="k").why == "the run is named twice"
    reading = {"piece_id": piece, "dimension_id": bore, "value": "25.01"}
    assert shop.refused(TakeReading, run_id=run, run_key="k", **reading).why == "the run is named twice"


def test_a_reading_whose_run_was_never_started_is_asked_about_and_can_stand_alone(
    shop: Shop, plan: tuple[int, int, int, int]
) -> None:
    _, _, bore, piece = plan
    reading = {"piece_id": piece, "dimension_id": bore, "value": "25.01", "run_key": "never"}
    question = shop.asked(TakeReading, **reading)
    assert question.choices[0].sets == {"run_key": ""}
    shop.do(TakeReading, **reading | question.choices[0].sets)
    assert shop.latest(piece, bore).value_nm == 25_010_000


def test_a_run_key_names_the_run_after_the_request_came_twice(shop: Shop, plan: tuple[int, int, int, int]) -> None:
    _, operation, bore, piece = plan
    asked = {"operation_id": operation, "pieces": [{"piece_id": piece}]}
    runs = {shop.do(StartRun, key="k", **asked)["run_id"] for _ in range(2)}
    assert len(runs) == 1
    shop.do(TakeReading, key="r", run_key="k", piece_id=piece, dimension_id=bore, value="25.01")
    shop.do(TakeReading, key="r", run_key="k", piece_id=piece, dimension_id=bore, value="25.01")
    assert len(shop.everything()["reading"]) == 1
