"""The demo build: it loads whole, shows every state a builder meets, and is told as a log is."""

from __future__ import annotations

import csv
import json
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select

from server.log.board import Board, Row, board
from server.log.kept import kept_and_rebuilt
from server.log.perform import perform
from server.log.story import Line, lines_of_build, lines_of_piece
from server.log.tables import Entry, Reading
from server.plan.builds import AddBuild
from server.plan.tables import Build, Dimension, Limits, Operation, Part, PlanChange
from server.records import demo as demo_module
from server.records.demo import put_demo_where_empty
from server.settings import DEMO_DATA, Settings
from server.store.action import Refused
from server.store.database import Database
from server.trade.iso286 import iso286_limits
from server.trade.thread_designation import thread_limits

NM = 1_000_000


@dataclass(frozen=True)
class Demo:
    """What the demo leaves in an empty database, read once: nothing here writes to it."""

    database: Database
    build_id: int
    before: datetime
    board: Board
    lines: list[Line]  # oldest first

    def row(self, mark: str) -> Row:
        return next(row for part in self.board.parts for row in part.rows if row.mark == mark)

    def story(self, mark: str) -> list[Line]:
        with self.database.read() as connection:
            return lines_of_piece(connection, self.row(mark).piece_id)

    def cell(self, mark: str, number: int) -> str:
        part = next(part for part in self.board.parts if any(row.mark == mark for row in part.rows))
        column = next(column for column in part.columns if column.number == number)
        return self.row(mark).cells[column.id].state

    def reading(self, mark: str, dimension: str) -> Line:
        """The last reading of a dimension of a piece that was not replaced."""
        return [
            line
            for line in self.story(mark)
            if line.kind == "reading" and line.dimension == dimension and line.replaced_by is None
        ][-1]

    def all(self, asked: Any) -> list[Any]:
        with self.database.read() as connection:
            return list(connection.execute(asked).all())


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    database = Database(Settings(data=tmp_path_factory.mktemp("demo")))
    try:
        before = datetime.now(UTC)
        assert put_demo_where_empty(database)
        with database.read() as connection:
            build_id = connection.execute(select(Build.id)).scalar_one()
            lines = lines_of_build(connection, build_id, before=None, limit=10_000)
            yield Demo(database, build_id, before, board(connection, build_id), lines[::-1])
    finally:
        database.close()


def test_every_step_of_the_story_is_in_the_log(demo: Demo) -> None:
    """A step that was refused would have left nothing at all; this is that none was passed over."""
    steps = [step for evening in told()["evenings"] for step in evening["steps"]]
    done = Counter(step["do"] for step in steps)
    kinds = Counter(kind for (kind,) in demo.all(select(Entry.kind)))
    starts = [step for step in steps if step["do"] == "start-pieces"]
    started = sum(len(step["marks"].split()) if "marks" in step else step["count"] for step in starts)
    assert kinds["piece"] == started
    assert kinds["run"] == done["start-run"] + done["cut-again"]
    assert kinds["run end"] == done["finish-run"] + done["cut-again"]
    assert kinds["reading"] == done["take-reading"] + done["correct-reading"]
    events = ("log-event", "accept-deviation", "scrap-piece", "fit-piece", "take-off-piece")
    assert kinds["event"] == sum(done[each] for each in events)
    assert sum(kinds.values()) > 200


def test_what_is_kept_ready_is_what_the_log_says(demo: Demo) -> None:
    kept, rebuilt = demo.database.write(kept_and_rebuilt)
    assert kept["piece_state"]
    assert kept["latest_reading"]
    assert kept == rebuilt


def test_a_second_start_does_nothing(demo: Demo) -> None:
    rows = demo.all(select(func.count()).select_from(Entry)), demo.all(select(Build.id))
    assert not put_demo_where_empty(demo.database)
    assert (demo.all(select(func.count()).select_from(Entry)), demo.all(select(Build.id))) == rows


def test_a_story_that_cannot_be_told_to_its_end_leaves_nothing(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a demo would stand in the way of the next start."""
    folder = tmp_path / "demo_data"
    shutil.copytree(DEMO_DATA, folder)
    story = told()
    story["evenings"] = story["evenings"][:2]
    story["evenings"][1]["steps"].append({"at": "22:00", "do": "start-pieces", "part": "CR", "marks": "CR-1"})
    (folder / "story.json").write_text(json.dumps(story), "utf-8")
    monkeypatch.setattr(demo_module, "DEMO_DATA", folder)
    with pytest.raises(Refused):
        put_demo_where_empty(database)
    with database.read() as connection:
        for table in (Build, Part, Entry, PlanChange):
            assert connection.execute(select(func.count()).select_from(table)).scalar_one() == 0


def test_a_database_with_a_build_of_ones_own_is_left_alone(database: Database) -> None:
    perform(database, AddBuild.read({"name": "my own"}), "own")
    assert not put_demo_where_empty(database)
    with database.read() as connection:
        assert connection.execute(select(Build.name)).scalars().all() == ["my own"]
        assert connection.execute(select(func.count()).select_from(Part)).scalar_one() == 0


def test_the_log_is_in_the_order_of_time_and_all_of_it_is_past(demo: Demo) -> None:
    times = [line.occurred_at for line in demo.lines]
    assert times == sorted(times)
    assert times[-1] < demo.before
    assert [line.received_at for line in demo.lines] == times
    days = (demo.before - times[0]).days
    assert 21 <= days <= 35


def test_work_was_done_in_the_evening(demo: Demo) -> None:
    local = [line.occurred_at.astimezone().time() for line in demo.lines]
    assert min(local) >= time(19)
    assert max(local) <= time(23)


def test_both_sheets_are_in_the_plan_row_for_row(demo: Demo) -> None:
    for name, table, requirement in (("operations", Operation, "Op"), ("dimensions", Dimension, "No.")):
        rows = list(csv.DictReader((DEMO_DATA / f"{name}.csv").read_text("utf-8").splitlines()))
        assert all(row[requirement] for row in rows)
        assert demo.all(select(func.count()).select_from(table)) == [(len(rows),)]


def test_the_plan_is_older_than_the_work(demo: Demo) -> None:
    assert demo.all(select(Build.created_at))[0][0] < demo.lines[0].occurred_at
    made_under = demo.all(
        select(Limits.since, Limits.until, Entry.occurred_at)
        .join(Reading, Reading.limits_id == Limits.id)
        .join(Entry, Entry.id == Reading.id)
    )
    assert len(made_under) > 60
    for since, until, at in made_under:
        assert since < at
        assert until is None or at < until


@pytest.mark.parametrize(
    ("mark", "state"),
    [
        ("CR-1", "fitted"),
        ("CR-2", "in hand"),
        ("DP-5", "in hand"),
        ("DP-2", "scrap"),
        ("DP-4", "to be measured"),
        ("BB-2", "to be cut again"),
        ("BU-2", "to be decided"),
        ("WD-2", "forgotten"),
        ("DS-2", "finished"),
        ("DS-3", "ready"),
    ],
)
def test_every_state_a_builder_meets_is_on_the_board(demo: Demo, mark: str, state: str) -> None:
    assert demo.row(mark).state == state


def test_the_near_side_is_together_and_the_far_side_is_not(demo: Demo) -> None:
    fitted = {row.mark: row.fitted_to for part in demo.board.parts for row in part.rows if row.fitted_to}
    assert fitted == {
        "CR-1": "near side, rod",
        "BU-1": "near side, plain end",
        "BB-1": "near side, crank end",
        "WD-1": "near side, crank end, wedge",
        "DS-1": "near side, crank end, draw screw",
        "DP-1": "near side, crank end, pin",
        "DP-3": "near side, plain end, pin",
    }


def test_the_counts_are_those_of_two_rods_with_all_that_goes_on_them(demo: Demo) -> None:
    counts = {row.number: row for row in demo.all(select(Part.number, Part.hand, Part.needed, Part.spares))}
    hands = 2 if counts["CR"].hand == "both" else 1
    rods = counts["CR"].needed * hands
    assert rods == 2
    assert counts["BB"].needed == counts["BU"].needed == counts["WD"].needed == counts["DS"].needed == rods
    assert counts["DP"].needed == 2 * rods
    # Nothing is short for the set: the scrapped pin has its new blank. The spare block is not begun.
    assert [finding.subject for finding in demo.board.shortages] == ["BB"]
    assert demo.board.shortages[0].severity == "worth knowing"
    assert {row.hand for row in (demo.row("CR-1"), demo.row("CR-2"))} == {"left", "right"}


def test_a_pin_was_scrapped_and_its_blank_replaced(demo: Demo) -> None:
    [scrap] = [line for line in demo.story("DP-2") if line.kind == "scrap"]
    assert "60 degrees" in scrap.text
    [started] = [line for line in demo.story("DP-5") if line.kind == "piece"]
    assert started.id > scrap.id
    assert started.occurred_at.date() == scrap.occurred_at.date()


def test_a_misread_thimble_was_corrected_and_the_misreading_kept(demo: Demo) -> None:
    first, second = (line for line in demo.story("DP-1") if line.dimension == "Journal diameter")
    assert first.verdict == "past the limit"
    assert second.replaces_id == first.id
    assert "misread" in second.why.casefold()
    assert second.verdict == "good"
    assert second.value_nm is not None
    assert first.value_nm is not None
    assert second.value_nm - first.value_nm == NM // 2  # the half-millimetre line of the sleeve


def test_a_cutter_broke_and_the_path_was_run_again(demo: Demo) -> None:
    lines = [line for line in demo.story("CR-2") if line.operation_number == 40 or line.kind == "cutter broken"]
    assert [line.outcome or line.kind for line in lines] == ["run", "cutter broken", "broken off", "run", "finished"]
    assert demo.cell("CR-2", 40) == "done"


def test_the_forgotten_operation_is_the_hole_of_a_wedge(demo: Demo) -> None:
    assert [demo.cell("WD-2", number) for number in (10, 20, 30)] == ["done", "forgotten", "done"]


def test_each_block_was_cut_a_set_clearance_under_its_slot_as_measured(demo: Demo) -> None:
    for rod, block in (("CR-1", "BB-1"), ("CR-2", "BB-2")):
        slot, flats = demo.reading(rod, "Crank-end slot width"), demo.reading(block, "Width over flats")
        assert slot.verdict == "good"
        assert slot.occurred_at < flats.occurred_at
        assert slot.value_nm is not None
        assert flats.value_nm is not None
        assert slot.value_nm - flats.value_nm == 50_000
        [note] = [
            line for line in demo.story(block) if line.kind == "note" and "Cut to the slot as measured" in line.text
        ]
        assert f"{rod} is {slot.typed}" in note.text
        assert flats.typed in note.text


def test_chatter_was_met_and_cured_with_figures(demo: Demo) -> None:
    met, cured = (line for line in demo.story("CR-1") if line.kind == "chatter")
    runs = {line.run_id: line for line in demo.story("CR-1") if line.kind == "run"}
    assert cured.text.startswith("Cured")
    assert f"{runs[cured.run_id].rpm:g} rpm instead of {runs[met.run_id].rpm:g}" in cured.text


def test_deviations_were_accepted_with_a_reason(demo: Demo) -> None:
    accepted = [line for line in demo.lines if line.kind == "deviation accepted"]
    assert [(line.pieces[0].mark, line.dimension) for line in accepted] == [
        ("CR-2", "Thickness"),
        ("BB-2", "Width over flats"),
    ]
    assert all(len(line.text) > 40 for line in accepted)
    assert demo.reading("CR-2", "Thickness").verdict == "past the limit"
    assert demo.cell("CR-2", 10) == "done"


def test_two_blanks_went_through_one_run_on_two_offsets(demo: Demo) -> None:
    pairs = [line.pieces for line in demo.lines if line.kind == "run" and len(line.pieces) == 2]
    assert [[(piece.mark, piece.work_offset) for piece in pieces] for pieces in pairs] == [
        [("BB-1", "G54"), ("BB-2", "G55")],
        [("WD-1", "G54"), ("WD-2", "G55")],
    ]


def test_metal_left_and_past_the_limit_are_on_the_bench(demo: Demo) -> None:
    assert demo.reading("BB-2", "Bore").verdict == "metal left"
    assert demo.reading("BU-2", "Outside diameter").verdict == "past the limit"
    assert not [line for line in demo.story("DP-4") if line.dimension == "Across flats"]


def test_a_limit_was_changed_and_older_readings_keep_theirs(demo: Demo) -> None:
    asked = select(Limits.requirement, Limits.until).join(Dimension, Dimension.id == Limits.dimension_id)
    rows = demo.all(asked.where(Dimension.name == "Journal length").order_by(Limits.id))
    assert [row.requirement for row in rows] == ["15.4 +0.1/0", "15.4 +0.15/0"]
    assert demo.reading("DP-1", "Journal length").requirement == "15.4 +0.1/0"
    later = demo.reading("DP-3", "Journal length")
    assert later.requirement == "15.4 +0.15/0"
    assert later.value_nm is not None
    assert later.value_nm > 15_500_000  # good by the new limits alone
    assert later.verdict == "good"
    assert any("15.4 +0.15/0" in what for (what,) in demo.all(select(PlanChange.what)))


def test_the_limits_drawn_are_those_of_the_standards_they_come_from(demo: Demo) -> None:
    """Computed by server.trade, which is checked against published tables: H7, g6, f7 of ISO 286-1, 6g of ISO 965-1."""
    drawn = {
        (row.number, row.name): (row.low_nm, row.high_nm)
        for row in demo.all(
            select(Part.number, Dimension.name, Limits.low_nm, Limits.high_nm)
            .join(Dimension, Dimension.part_id == Part.id)
            .join(Limits, (Limits.dimension_id == Dimension.id) & Limits.until.is_(None))  # type: ignore[union-attr]
        )
    }
    assert drawn["CR", "Plain-end bore"] == iso286_limits(22 * NM, "H7")
    assert drawn["BU", "Outside diameter"] == iso286_limits(22 * NM, "g6")
    assert drawn["BU", "Bore"] == drawn["BB", "Bore"] == iso286_limits(16 * NM, "H7")
    assert drawn["DP", "Journal diameter"] == iso286_limits(16 * NM, "f7")
    for part, thread in (("DP", "M10×1-6g"), ("DS", "M5-6g")):
        limits = thread_limits(thread)
        assert drawn[part, f"Thread {thread}, pitch diameter"] == (limits.pitch_low_nm, limits.pitch_high_nm)
    assert drawn["CR", "Eye width"] == (31_623_000, 31_877_000)  # 1.245 and 1.255 in


def test_only_the_forgotten_operation_was_answered_with_sure() -> None:
    steps = [step for evening in told()["evenings"] for step in evening["steps"]]
    assert [step["pieces"] for step in steps if step.get("sure")] == [{"WD-2": "G54"}]


def told() -> Any:
    return json.loads((DEMO_DATA / "story.json").read_text("utf-8"))
