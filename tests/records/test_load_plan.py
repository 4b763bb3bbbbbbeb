"""Loading a sheet into the plan."""

from __future__ import annotations

from sqlalchemy import select

from server.plan.reading import part_plan, plan_changes
from server.plan.tables import Part
from server.records.load_plan import LoadPlan, SheetRequest, preview
from server.store.database import Database
from tests.shop import Shop

SHEET = "Part\tNo.\tWhat\tRequirement\tCutting makes it\nCR\t1\tLength\t25\tsmaller\n"


def test_a_bare_size_is_held_to_the_general_tolerance_of_its_own_part(database: Database, shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, number="CR", general_tolerance="±0.5")
    shop.do(LoadPlan, build_id=build, text=SHEET)
    with database.read() as connection:
        row = connection.execute(select(Part.__table__).where(Part.id == part)).one()  # type: ignore[attr-defined]
        (length,) = part_plan(connection, row).dimensions
    assert (length.low_nm, length.high_nm) == (24_500_000, 25_500_000)


def test_a_first_column_without_a_heading_keeps_its_place(database: Database, shop: Shop) -> None:
    build = shop.build()
    sheet = "\tPart\tNo.\tWhat\tRequirement\n1\tCR\t7\tLength\t25 ±0.1\n"
    shop.do(LoadPlan, build_id=build, text=sheet)
    with database.read() as connection:
        row = connection.execute(select(Part.__table__)).one()  # type: ignore[attr-defined]
        (length,) = part_plan(connection, row).dimensions
    assert (row.number, length.number, length.requirement) == ("CR", "7", "25 ±0.1")


def test_loading_a_sheet_again_changes_what_differs_and_says_so(database: Database, shop: Shop) -> None:
    build = shop.build()
    shop.do(LoadPlan, build_id=build, text=SHEET.replace("25", "25 ±0.1"))
    answer = shop.do(LoadPlan, build_id=build, text=SHEET.replace("25", "25 ±0.2"))
    assert answer["rows"] == {"new": 0, "changed": 1, "unchanged": 0}
    with database.read() as connection:
        said = [change.what for change in plan_changes(connection, build)]
    assert any("CR dimension 1 Length: requirement from “25 ±0.1” to “25 ±0.2”" in each for each in said)


def test_a_column_the_sheet_does_not_have_leaves_its_field_as_it_is(database: Database, shop: Shop) -> None:
    build = shop.build()
    whole = (
        "Part\tNo.\tWhat\tRequirement\tCutting makes it\tOp\tMatters for\tGauge\n"
        "CR\t3\tBore\t22.000..22.021\tlarger\t20\tfit\tbore gauge\n"
    )
    shop.do(LoadPlan, build_id=build, text=whole)
    answer = shop.do(LoadPlan, build_id=build, text="Part\tNo.\tWhat\tRequirement\nCR\t3\tBore\t22.000..22.030\n")
    assert answer["rows"] == {"new": 0, "changed": 1, "unchanged": 0}
    with database.read() as connection:
        row = connection.execute(select(Part.__table__)).one()  # type: ignore[attr-defined]
        (bore,) = part_plan(connection, row).dimensions
    assert (bore.cutting, bore.operation_number, bore.importance, bore.gauge) == ("larger", 20, "fit", "bore gauge")
    assert bore.high_nm == 22_030_000


def test_a_preview_says_what_each_row_would_change(database: Database, shop: Shop) -> None:
    build = shop.build()
    shop.do(LoadPlan, build_id=build, text=SHEET.replace("25", "25 ±0.1"))
    with database.read() as connection:
        asked = SheetRequest.read({"build_id": build, "text": SHEET.replace("25", "25 ±0.2")})
        (change,) = preview(connection, asked).changes
    assert (change.what, change.said) == ("changed", "requirement from “25 ±0.1” to “25 ±0.2”")


def test_a_sheet_that_does_not_say_what_cutting_does_is_told_so(database: Database, shop: Shop) -> None:
    build = shop.build()
    with database.read() as connection:
        asked = SheetRequest.read({"build_id": build, "text": "Part\tNo.\tWhat\tRequirement\nCR\t1\tBore\t25 ±0.1\n"})
        found = preview(connection, asked)
    assert found.rows is not None
    assert any("metal left cannot be told" in note.text for note in found.rows.notes)


def test_a_bare_size_without_a_cutting_column_keeps_its_cutting_direction(database: Database, shop: Shop) -> None:
    build = shop.build(general_tolerance="±0.5")
    shop.do(LoadPlan, build_id=build, text=SHEET)
    answer = shop.do(LoadPlan, build_id=build, text="Part\tNo.\tWhat\tRequirement\nCR\t1\tLength\t26\n")
    assert answer["rows"]["changed"] == 1
    with database.read() as connection:
        row = connection.execute(select(Part.__table__)).one()  # type: ignore[attr-defined]
        (length,) = part_plan(connection, row).dimensions
    assert (length.cutting, length.high_nm) == ("smaller", 26_500_000)
