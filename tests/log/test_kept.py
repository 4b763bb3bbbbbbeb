"""What is kept ready says the same as the log, whatever is done, in whatever order."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from server.log.at_machine import can_be_run, in_hand, measured, run_view
from server.log.board import board
from server.log.events import (
    AcceptDeviation,
    FitPiece,
    LogEvent,
    MistakenPiece,
    ScrapPiece,
    TakeBackEvent,
    TakeOffPiece,
)
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeBackReading, TakeReading
from server.log.runs import CutAgain, FinishRun, StartRun
from server.log.story import lines_of_build, lines_of_piece
from server.plan.builds import EditBuild
from server.plan.dimensions import AddDimension, EditDimension, RetireDimension
from server.plan.operations import AddOperation, EditOperation, RetireOperation
from server.plan.parts import EditPart
from server.settings import Settings
from server.store.action import Action, Refused
from server.store.database import Database
from tests.shop import Shop

# Which of the things made so far; now and then one that is not there.
which = st.integers(0, 11)
operation_number = st.sampled_from([10, 20, 30])
requirement = st.sampled_from(["25 ±0.02", "25 +0.021/0", "max 26", "min 24", "(25)", "25", "24.9 to 25.1"])
value = st.sampled_from(["25", "25.01", "24.9", "25.2", "26", "23.5", "0.985 in", "-1", "what"])
cutting = st.sampled_from(["smaller", "larger", "neither"])


class Evenings(RuleBasedStateMachine):
    """Evenings in the shop: anything the builder may do, and much that makes no sense."""

    def __init__(self, new_file: Path) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        settings = Settings(data=Path(self.folder.name))
        shutil.copy(new_file, settings.database)
        self.shop = Shop(Database(settings))
        self.numbers: dict[str, list[int]] = {}

    def teardown(self) -> None:
        with self.shop.database.read() as connection:  # what is read from it can be read
            board(connection, 1)
            in_hand(connection, 1)
            can_be_run(connection, 1)
            lines_of_build(connection, 1, None, 500)
            for piece in self.numbers.get("piece", []):
                measured(connection, piece, "mm")
                lines_of_piece(connection, piece)
            for run in self.numbers.get("run", []):
                run_view(connection, run, "in")
        self.shop.database.close()
        self.folder.cleanup()

    def act(self, action: type[Action], **fields: Any) -> dict[str, Any]:
        """Do it, answer a question with yes, and take a refusal; nothing else may be raised."""
        try:
            return self.shop.do(action, **fields)
        except Refused as refused:
            if refused.question is None:
                return {}
            sets = refused.question.choices[-1].sets
        try:
            return self.shop.do(action, **{**fields, **sets})
        except Refused as refused:
            asked_again = refused.question
        assert asked_again is None, "asked again after an answer"
        return {}

    def note(self, kind: str, number: int | None) -> None:
        if number is not None:
            self.numbers.setdefault(kind, []).append(number)

    def one(self, kind: str, place: int) -> int:
        made = self.numbers.get(kind, [])
        return made[place % len(made)] if made and place < 11 else 999_999

    @initialize()
    def plan(self) -> None:
        self.build = self.shop.build(general_tolerance="ISO 2768-m")
        self.part = self.shop.part(self.build, needed=2)
        for number in (10, 20):
            self.note("operation", self.shop.operation(self.part, number))
        self.note("dimension", self.shop.dimension(self.part, "bore", operation_number=10))
        self.note("dimension", self.shop.dimension(self.part, "thickness", "8 ±0.05", "smaller", operation_number=20))
        for piece in self.shop.pieces(self.part, 2):
            self.note("piece", piece)

    @rule(number=operation_number)
    def add_operation(self, number: int) -> None:
        self.note("operation", self.act(AddOperation, part_id=self.part, number=number, name="x").get("operation_id"))

    @rule(place=which, number=operation_number)
    def edit_operation(self, place: int, number: int) -> None:
        self.act(EditOperation, operation_id=self.one("operation", place), number=number, name="y")

    @rule(place=which)
    def retire_operation(self, place: int) -> None:
        self.act(RetireOperation, operation_id=self.one("operation", place))

    @rule(name=st.sampled_from("ABC"), text=requirement, cutting=cutting, number=st.none() | operation_number)
    def add_dimension(self, name: str, text: str, cutting: str, number: int | None) -> None:
        fields = {"number": name, "name": name, "requirement": text, "cutting": cutting, "operation_number": number}
        self.note("dimension", self.act(AddDimension, part_id=self.part, **fields).get("dimension_id"))

    @rule(place=which, text=requirement, cutting=cutting, importance=st.sampled_from(["fit", "cosmetic"]))
    def edit_dimension(self, place: int, text: str, cutting: str, importance: str) -> None:
        fields = {"number": f"D{place}", "name": "z", "requirement": text, "cutting": cutting, "importance": importance}
        self.act(EditDimension, dimension_id=self.one("dimension", place), operation_number=10, **fields)

    @rule(place=which)
    def retire_dimension(self, place: int) -> None:
        self.act(RetireDimension, dimension_id=self.one("dimension", place))

    @rule(general=st.sampled_from(["ISO 2768-f", "±0.3", ""]))
    def change_the_general_tolerance(self, general: str) -> None:
        self.act(EditBuild, build_id=self.build, name="proof press", general_tolerance=general)

    @rule(hand=st.sampled_from(["none", "left", "both"]), general=st.sampled_from(["", "ISO 2768-c"]))
    def edit_part(self, hand: str, general: str) -> None:
        self.act(EditPart, part_id=self.part, number="CR", name="rod", hand=hand, general_tolerance=general)

    @rule(marks=st.sampled_from(["", "A", "B"]), hand=st.sampled_from(["none", "left"]))
    def start_piece(self, marks: str, hand: str) -> None:
        for piece in self.act(StartPieces, part_id=self.part, marks=marks, hand=hand).get("piece_ids", []):
            self.note("piece", piece)

    @rule(place=which, pieces=st.lists(which, min_size=1, max_size=3), finished=st.booleans())
    def start_run(self, place: int, pieces: list[int], finished: bool) -> None:
        on = [{"piece_id": self.one("piece", piece), "work_offset": "G54"} for piece in pieces]
        fields = {"operation_id": self.one("operation", place), "pieces": on, "finished": finished}
        self.note("run", self.act(StartRun, **fields).get("run_id"))

    @rule(place=which, outcome=st.sampled_from(["finished", "broken off"]))
    def finish_run(self, place: int, outcome: str) -> None:
        self.act(FinishRun, run_id=self.one("run", place), outcome=outcome)

    @rule(place=which)
    def cut_again(self, place: int) -> None:
        self.note("run", self.act(CutAgain, run_id=self.one("run", place)).get("run_id"))

    @rule(piece=which, dimension=which, value=value, run=st.none() | which)
    def take_reading(self, piece: int, dimension: int, value: str, run: int | None) -> None:
        fields: dict[str, Any] = {} if run is None else {"run_id": self.one("run", run)}
        fields |= {"piece_id": self.one("piece", piece), "dimension_id": self.one("dimension", dimension)}
        self.note("reading", self.act(TakeReading, value=value, **fields).get("reading_id"))

    @rule(place=which, value=value)
    def correct_reading(self, place: int, value: str) -> None:
        fields = {"reading_id": self.one("reading", place), "value": value, "why": "misread"}
        self.note("reading", self.act(CorrectReading, **fields).get("reading_id"))

    @rule(place=which)
    def take_back_reading(self, place: int) -> None:
        fields = {"reading_id": self.one("reading", place), "why": "wrong piece"}
        self.note("reading", self.act(TakeBackReading, **fields).get("reading_id"))

    @rule(place=which)
    def accept(self, place: int) -> None:
        self.act(AcceptDeviation, reading_id=self.one("reading", place), text="will do")

    @rule(place=which, action=st.sampled_from([ScrapPiece, MistakenPiece, FitPiece, TakeOffPiece]))
    def say_of_a_piece(self, place: int, action: type[Action]) -> None:
        self.act(action, piece_id=self.one("piece", place), text="near side")

    @rule(piece=st.none() | which, run=st.none() | which)
    def log_event(self, piece: int | None, run: int | None) -> None:
        about = {"piece_id": self.one("piece", piece) if piece is not None else None}
        about |= {"run_id": self.one("run", run) if run is not None else None}
        self.act(LogEvent, kind="chatter", text="slowed down", **about)

    @rule(place=which)
    def take_back_event(self, place: int) -> None:
        with self.shop.database.read() as connection:
            events = connection.exec_driver_sql("SELECT id FROM event ORDER BY id DESC LIMIT 11").scalars().all()
        event = events[place] if place < len(events) else 999_999
        self.act(TakeBackEvent, event_id=event, why="slip of the finger")

    @invariant()
    def kept_is_what_follows_from_the_log(self) -> None:
        kept, rebuilt = self.shop.kept_and_rebuilt()
        assert kept == rebuilt

    @invariant()
    def no_piece_is_in_two_open_runs(self) -> None:
        twice = (
            "SELECT piece_id FROM run_piece WHERE run_id NOT IN (SELECT run_id FROM run_end) "
            "AND piece_id NOT IN (SELECT piece_id FROM piece_state WHERE state IN ('scrap', 'entered by mistake')) "
            "GROUP BY piece_id HAVING count(*) > 1"
        )
        with self.shop.database.read() as connection:
            assert connection.exec_driver_sql(twice).all() == []


def test_kept_rows_are_what_follows_from_the_log_after_anything_that_is_done(new_file: Path) -> None:
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        lambda: Evenings(new_file),
        settings=settings(
            max_examples=12,
            stateful_step_count=40,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            database=None,
        ),
    )


def test_rebuilding_finds_a_kept_row_that_is_wrong(shop: Shop) -> None:
    """The test above could not fail if rebuilding looked at what it is to check."""
    part = shop.part(shop.build())
    bore, other = shop.dimension(part), shop.dimension(part, "step", "(5)")
    piece = shop.piece(part)
    shop.read(piece, bore, "25.01")
    for spoil in (
        "UPDATE latest_reading SET value_nm = 1, verdict = 'past the limit'",
        "DELETE FROM latest_reading",
        "UPDATE piece_state SET state = 'scrap'",
        f"INSERT INTO latest_reading SELECT piece_id, {other}, reading_id, first_id, 1, '' FROM latest_reading",
    ):
        shop.database.write(lambda connection, spoil=spoil: connection.exec_driver_sql(spoil).close())
        kept, rebuilt = shop.kept_and_rebuilt()
        assert kept != rebuilt
        kept, rebuilt = shop.kept_and_rebuilt()
        assert kept == rebuilt
    assert shop.standing(piece).state == "finished"


def test_a_change_of_the_plan_is_seen_on_every_piece_of_a_large_part(shop: Shop) -> None:
    part = shop.part(shop.build())
    bore = shop.dimension(part, requirement="25 ±0.02", operation_number=None)
    pieces = [piece for _ in range(11) for piece in shop.pieces(part, 50)]
    for piece in (pieces[0], pieces[-1]):
        shop.read(piece, bore, "25.03")
        assert shop.standing(piece).state == "to be decided"
    fields = {"number": "bore", "name": "bore", "requirement": "25 ±0.05", "cutting": "larger"}
    shop.do(EditDimension, dimension_id=bore, **fields)
    assert [shop.standing(piece).state for piece in (pieces[0], pieces[-1], pieces[300])] == [
        "finished",
        "finished",
        "to be measured",
    ]
    kept, rebuilt = shop.kept_and_rebuilt()
    assert kept == rebuilt
