"""What screens read, kept ready: rows that follow from the log and are written in the same transaction as it.

They can be thrown away and made again from the log at any time; `matchmark check` proves that they say the same.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Index, text
from sqlmodel import Field, SQLModel


class LatestReading(SQLModel, table=True):
    """The reading that stands now for a dimension of a piece, judged by the limits in force now."""

    __tablename__ = "latest_reading"

    piece_id: int = Field(primary_key=True, foreign_key="piece.id")
    dimension_id: int = Field(primary_key=True, foreign_key="dimension.id")
    reading_id: int = Field(foreign_key="reading.id")
    first_id: int
    value_nm: int = Field(sa_type=BigInteger)
    verdict: str


class PieceOperation(SQLModel, table=True):
    """Where a piece stands at one operation."""

    __tablename__ = "piece_operation"

    piece_id: int = Field(primary_key=True, foreign_key="piece.id")
    operation_id: int = Field(primary_key=True, foreign_key="operation.id")
    state: str
    runs: int
    why: str = ""


class PieceState(SQLModel, table=True):
    """Where a piece stands as a whole, and what is the next thing to do with it."""

    __tablename__ = "piece_state"
    __table_args__ = (
        Index("ix_piece_state_build_id_part_id", "build_id", "part_id"),
        Index(
            "uq_piece_state_build_id_mark",
            "build_id",
            "mark",
            unique=True,
            sqlite_where=text("state <> 'entered by mistake'"),
            postgresql_where=text("state <> 'entered by mistake'"),
        ),
    )

    piece_id: int = Field(primary_key=True, foreign_key="piece.id")
    build_id: int = Field(foreign_key="build.id")
    part_id: int = Field(foreign_key="part.id")
    mark: str
    hand: str
    state: str
    next_move: str = ""
    operation_id: int | None = Field(default=None, foreign_key="operation.id")
    run_id: int | None = Field(default=None, foreign_key="run.id")
    fitted_to: str = ""
