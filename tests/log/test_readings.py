"""Readings: taken, doubted, corrected, taken back."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from typing import NamedTuple

import pytest

from server.log.events import AcceptDeviation, MistakenPiece, ScrapPiece
from server.log.readings import CorrectReading, TakeBackReading, TakeReading
from server.plan.dimensions import EditDimension, RetireDimension
from server.store.base import now
from tests.shop import Shop


class Job(NamedTuple):
    build: int
    part: int
    operation: int
    bore: int  # 25 +0.021/0, cut larger, made by op 10
    piece: int


@pytest.fixture
def job(shop: Shop) -> Job:
    build = shop.build()
    part = shop.part(build)
    operation = shop.operation(part)
    return Job(build, part, operation, shop.dimension(part, operation_number=10), shop.piece(part))


@pytest.mark.parametrize(
    ("fields", "nm"),
    [
        ({"value": "25.01"}, 25_010_000),
        ({"value": "25,01"}, 25_010_000),
        ({"value": ".985", "unit": "in"}, 25_019_000),
        ({"value": "0.985 in"}, 25_019_000),
        ({"value": "63/64", "unit": "in"}, 25_003_125),
        ({"value": "+0.01", "entered_as": "deviation"}, 25_010_000),
        ({"value": "−0.03", "entered_as": "deviation"}, 24_970_000),
        ({"value": "+2 thou", "entered_as": "deviation"}, 25_050_800),
        ({"value": "0", "entered_as": "deviation"}, 25_000_000),
    ],
)
def test_a_reading_is_kept_in_nanometres_with_what_was_typed(
    shop: Shop, job: Job, fields: dict[str, str], nm: int, outside: sqlite3.Connection
) -> None:
    shop.read(job.piece, job.bore, **fields, gauge="bore gauge", temperature_c=21.5)
    row = outside.execute("SELECT value_nm, typed, unit, entered_as, gauge, temperature_c FROM reading").fetchone()
    assert row == (
        nm,
        fields["value"],
        fields.get("unit", "mm"),
        fields.get("entered_as", "absolute"),
        "bore gauge",
        21.5,
    )


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"value": ""}, "value"),
        ({"value": "about 25"}, "value"),
        ({"value": "25.0.1"}, "value"),
        ({"value": "1e300"}, "value"),
        ({"value": "9" * 70}, "value"),
        ({"value": "9" * 81}, "value"),
        ({"value": "2 km"}, "value"),
        ({"value": "NaN"}, "value"),
        ({"value": 25.0}, "value"),
        ({"value": "\ud800"}, "value"),
        ({"value": "25\x00"}, "value"),
        ({"value": "0"}, "value"),
        ({"value": "-25"}, "value"),
        ({"value": "-30", "entered_as": "deviation"}, "value"),
        ({"unit": "cm"}, "unit"),
        ({"entered_as": "guess"}, "entered_as"),
        ({"gauge": "x" * 201}, "gauge"),
        ({"gauge": "\udfff"}, "gauge"),
        ({"temperature_c": "nan"}, "temperature_c"),
        ({"temperature_c": float("inf")}, "temperature_c"),
        ({"temperature_c": 151}, "temperature_c"),
        ({"temperature_c": "warm"}, "temperature_c"),
        ({"who": "x" * 81}, "who"),
        ({"sure": "perhaps"}, "sure"),
        ({"verdict": "good"}, "verdict"),
        ({"run_id": 999}, "run_id"),
        ({"run_id": 2**63}, "run_id"),
        ({"piece_id": 999}, "piece_id"),
        ({"piece_id": True}, "piece_id"),
        ({"dimension_id": 10**40}, "dimension_id"),
        ({"dimension_id": None}, "dimension_id"),
    ],
)
def test_a_reading_that_cannot_be_is_told(shop: Shop, job: Job, fields: dict[str, object], field: str) -> None:
    asked = {"piece_id": job.piece, "dimension_id": job.bore, "value": "25.01", **fields}
    assert shop.refused(TakeReading, **asked).field == field


def test_25_mm_typed_as_25_in_is_asked_about_and_both_answers_are_taken(shop: Shop, job: Job) -> None:
    asked = {"piece_id": job.piece, "dimension_id": job.bore, "value": "25.01", "unit": "in"}
    question = shop.asked(TakeReading, **asked)
    assert "25.01 in is far from the drawing's 25 +0.021/0; 25.01 mm would be near it" in question.text
    as_mm, as_typed = question.choices
    assert shop.do(TakeReading, **{**asked, **as_mm.sets})["value_nm"] == 25_010_000
    assert shop.do(TakeReading, **{**asked, **as_typed.sets})["value_nm"] == 635_254_000


@pytest.mark.parametrize(
    "fields",
    [
        {"value": "25.01 in"},  # the unit stands there: it was meant
        {"value": "+24", "unit": "in", "entered_as": "deviation"},  # in the other unit it would be as far off
        {"value": "250.1"},
    ],
)
def test_what_is_just_far_off_is_asked_about_without_guessing_another_unit(
    shop: Shop, job: Job, fields: dict[str, str]
) -> None:
    question = shop.asked(TakeReading, piece_id=job.piece, dimension_id=job.bore, **fields)
    assert [choice.sets for choice in question.choices] == [{"sure": True}]


def test_tenths_far_off_are_asked_about_though_millimetres_have_none(shop: Shop, job: Job) -> None:
    """Read in the other unit, "5 tenths" cannot be read at all."""
    gap = shop.dimension(job.part, "gap", "0.0005 ±0.00001", "neither")
    shop.asked(TakeReading, piece_id=job.piece, dimension_id=gap, value="5 tenths", unit="in")


@pytest.mark.parametrize(
    ("requirement", "value"), [("max 0.02", "0"), ("0.01 ±0.05", "-0.03"), ("0.01 ±0.05", "0"), ("0 ±0.05", "-0.01")]
)
def test_what_the_drawing_allows_is_taken_without_a_question(
    shop: Shop, job: Job, requirement: str, value: str
) -> None:
    run_out = shop.dimension(job.part, "run-out", requirement, "neither")
    shop.read(job.piece, run_out, value)
    assert shop.latest(job.piece, run_out).verdict == "good"


def test_a_deviation_needs_a_size_to_deviate_from(shop: Shop, job: Job) -> None:
    step = shop.dimension(job.part, "step", "24.98 to 25", "larger")
    asked = {"piece_id": job.piece, "dimension_id": step, "value": "+0.01", "entered_as": "deviation"}
    problem = shop.refused(TakeReading, **asked)
    assert (problem.field, problem.accepts) == ("value", "the size itself")


def test_a_dimension_of_another_part_is_told(shop: Shop, job: Job) -> None:
    other = shop.dimension(shop.part(job.build, "BR"))
    problem = shop.refused(TakeReading, piece_id=job.piece, dimension_id=other, value="25")
    assert (problem.field, problem.why) == ("dimension_id", "CR-1 has no such dimension")


def test_a_dimension_taken_off_the_part_is_told_and_its_readings_no_longer_count(shop: Shop, job: Job) -> None:
    reading = shop.read(job.piece, job.bore, "26")
    assert shop.standing(job.piece).state == "to be decided"
    shop.do(RetireDimension, dimension_id=job.bore)
    assert shop.standing(job.piece).state == "ready"
    problem = shop.refused(TakeReading, piece_id=job.piece, dimension_id=job.bore, value="25")
    assert (problem.field, problem.why) == ("dimension_id", "bore was taken off the part")
    assert shop.latest(job.piece, job.bore) is None
    shop.correct(reading, "25.5")  # the log can still be put right
    assert shop.latest(job.piece, job.bore) is None


def test_nothing_is_measured_on_a_piece_that_is_no_more(shop: Shop, job: Job) -> None:
    other = shop.piece(job.part)
    shop.do(ScrapPiece, piece_id=job.piece, text="dropped")
    shop.do(MistakenPiece, piece_id=other, text="no such blank")
    for piece, mark in ((job.piece, "CR-1"), (other, "CR-2")):
        problem = shop.refused(TakeReading, piece_id=piece, dimension_id=job.bore, value="25")
        assert (problem.field, problem.read) == ("piece_id", mark)


def test_a_run_the_piece_was_not_in_is_told(shop: Shop, job: Job) -> None:
    run = shop.run(job.operation, shop.piece(job.part))
    problem = shop.refused(TakeReading, piece_id=job.piece, dimension_id=job.bore, value="25", run_id=run)
    assert problem.why == "it is not in this run"


def test_the_last_reading_stands(shop: Shop, job: Job) -> None:
    shop.read(job.piece, job.bore, "24.9")
    assert shop.latest(job.piece, job.bore).verdict == "metal left"
    second = shop.read(job.piece, job.bore, "25.01")
    latest = shop.latest(job.piece, job.bore)
    assert (latest.reading_id, latest.verdict) == (second, "good")


def test_correcting_an_older_reading_does_not_displace_a_newer_one(shop: Shop, job: Job) -> None:
    old = shop.read(job.piece, job.bore, "24.9")
    new = shop.read(job.piece, job.bore, "25.01")
    corrected = shop.correct(old, "24.8")
    assert shop.latest(job.piece, job.bore).reading_id == new
    shop.do(TakeBackReading, reading_id=new, why="that was CR-2")
    assert shop.latest(job.piece, job.bore).reading_id == corrected


def test_a_corrected_reading_is_no_measurement_after_a_later_run(shop: Shop, job: Job) -> None:
    shop.run(job.operation, job.piece)
    before = shop.read(job.piece, job.bore, "24.9")
    shop.run(job.operation, job.piece)
    shop.correct(before, "24.95")
    assert shop.state_at(job.piece, job.operation) == "to be measured"


def test_a_reading_is_corrected_once_and_then_its_correction_is(shop: Shop, job: Job) -> None:
    first = shop.read(job.piece, job.bore, "24.9")
    second = shop.correct(first, "24.95")
    for action, fields in ((CorrectReading, {"value": "25"}), (TakeBackReading, {})):
        problem = shop.refused(action, reading_id=first, why="again", **fields)
        assert (problem.field, problem.accepts) == ("reading_id", "a reading that still stands")
    third = shop.correct(second, "25.01")
    assert shop.latest(job.piece, job.bore).reading_id == third
    assert shop.latest(job.piece, job.bore).first_id == first


def test_a_reading_taken_back_leaves_the_one_before_it(shop: Shop, job: Job) -> None:
    first = shop.read(job.piece, job.bore, "24.9")
    second = shop.correct(shop.read(job.piece, job.bore, "25.5"), "25.01")
    back = shop.do(TakeBackReading, reading_id=second, why="that was CR-2")["reading_id"]
    assert shop.latest(job.piece, job.bore).reading_id == first
    for action, fields in ((CorrectReading, {"value": "25"}), (TakeBackReading, {})):
        assert shop.refused(action, reading_id=back, why="x", **fields).why == "it was taken back"


def test_a_correction_says_why_and_answers_as_a_reading_does(shop: Shop, job: Job) -> None:
    reading = shop.read(job.piece, job.bore, "24.9")
    assert shop.refused(CorrectReading, reading_id=reading, value="25", why="").field == "why"
    answer = shop.do(CorrectReading, reading_id=reading, value="25.01", why="misread the vernier")
    assert set(answer) == {"reading_id", "piece_id", "dimension_id", "value_nm", "page"}
    assert (answer["piece_id"], answer["dimension_id"], answer["value_nm"]) == (job.piece, job.bore, 25_010_000)


def test_a_reading_that_arrives_late_has_the_limits_and_the_nominal_of_its_own_moment(
    shop: Shop, job: Job, outside: sqlite3.Connection
) -> None:
    made_at = now()
    bore = {"number": "bore", "name": "bore", "cutting": "larger", "operation_number": 10}
    shop.do(EditDimension, dimension_id=job.bore, requirement="26 +0.021/0", **bore)
    late = {"entered_as": "deviation", "occurred_at": made_at.isoformat()}
    shop.read(job.piece, job.bore, "+0.01", **late)
    shop.read(job.piece, job.bore, "+0.01", entered_as="deviation")
    before_the_plan = (made_at - timedelta(days=1)).isoformat()
    shop.read(job.piece, job.bore, "+0.01", entered_as="deviation", occurred_at=before_the_plan, sure=True)
    rows = outside.execute("SELECT value_nm, limits_id FROM reading").fetchall()
    assert rows == [(25_010_000, 1), (26_010_000, 2), (26_010_000, 2)]


def test_a_correction_keeps_the_limits_its_reading_was_made_under(
    shop: Shop, job: Job, outside: sqlite3.Connection
) -> None:
    reading = shop.read(job.piece, job.bore, "+0.1", entered_as="deviation")
    asked = {"number": "bore", "name": "bore", "requirement": "26 ±0.02", "cutting": "larger", "operation_number": 10}
    shop.do(EditDimension, dimension_id=job.bore, **asked)
    assert shop.latest(job.piece, job.bore).verdict == "metal left"  # by the limits in force now
    shop.correct(reading, "+0.01", entered_as="deviation")
    assert outside.execute("SELECT value_nm, limits_id FROM reading").fetchall() == [(25_100_000, 1), (25_010_000, 1)]


def test_a_corrected_reading_has_to_be_accepted_anew(shop: Shop, job: Job) -> None:
    shop.run(job.operation, job.piece)
    reading = shop.read(job.piece, job.bore, "25.1")
    assert shop.standing(job.piece).state == "to be decided"
    shop.do(AcceptDeviation, reading_id=reading, text="the pin will be made to it")
    assert shop.standing(job.piece).state == "finished"
    shop.correct(reading, "25.2")
    assert shop.standing(job.piece).state == "to be decided"


def test_a_reading_older_than_the_one_that_counts_is_asked_about(shop: Shop, job: Job) -> None:
    shop.read(job.piece, job.bore, "25.01")
    week_ago = (now() - timedelta(days=7)).isoformat()
    late = {"piece_id": job.piece, "dimension_id": job.bore, "value": "24.9", "occurred_at": week_ago}
    question = shop.asked(TakeReading, **late)
    assert "25.0100 mm" in question.text
    shop.do(TakeReading, **late, **question.choices[0].sets)
    assert shop.latest(job.piece, job.bore).value_nm == 24_900_000
    a_minute_ago = (now() - timedelta(minutes=1)).isoformat()
    shop.do(TakeReading, **{**late, "value": "25.012", "occurred_at": a_minute_ago})  # a clock a little behind
