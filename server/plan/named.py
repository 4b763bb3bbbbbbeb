"""The row a number names, or NotThere: every action begins by asking for what it is about."""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import Connection, Select, bindparam, select
from sqlmodel import SQLModel

from server.plan.tables import Build, Dimension, Operation, Part
from server.store.action import NotThere


def the_build(connection: Connection, build_id: int) -> Any:
    return the_row(connection, Build, build_id, "build")


def the_part(connection: Connection, part_id: int) -> Any:
    return the_row(connection, Part, part_id, "part")


def the_operation(connection: Connection, operation_id: int) -> Any:
    return the_row(connection, Operation, operation_id, "operation")


def the_dimension(connection: Connection, dimension_id: int) -> Any:
    return the_row(connection, Dimension, dimension_id, "dimension")


@cache
def _by_id(table: type[SQLModel]) -> Select[Any]:
    columns = table.__table__  # type: ignore[attr-defined]
    return select(columns).where(columns.c.id == bindparam("id"))


def the_row(connection: Connection, table: type[SQLModel], number: int, called: str) -> Any:
    """The row with this number; NotThere when there is none (SQLite's integers end at 2**63)."""
    row = connection.execute(_by_id(table), {"id": number}).first() if 0 < number < 2**63 else None
    if row is None:
        raise NotThere(f"{called.replace(' ', '_')}_id", number, called)
    return row
