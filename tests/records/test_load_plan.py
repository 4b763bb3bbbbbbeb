"""Loading a sheet into the plan."""

from __future__ import annotations

from sqlalchemy import select

from server.plan.reading import part_plan, plan_changes
from server.plan.tables import Part
from server.records.load_plan import LoadPlan
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
