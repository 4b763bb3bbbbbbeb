"""The store's own tables."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from server.store.base import Moment


class Device(SQLModel, table=True):
    """A tablet or desk that was paired with this server. Only a hash of its secret is kept; a revoked one stays."""

    __tablename__ = "device"
    __table_args__ = (CheckConstraint("role IN ('editor', 'viewer')", name="role_known"),)

    id: int | None = Field(default=None, primary_key=True)
    name: str
    role: str = "editor"
    secret_hash: str = Field(unique=True)
    created_at: datetime = Field(sa_type=Moment)
    last_seen_at: datetime | None = Field(default=None, sa_type=Moment)
    revoked_at: datetime | None = Field(default=None, sa_type=Moment)


class RequestKey(SQLModel, table=True):
    """A client's key and the answer it got, written in the same transaction as the effect: once is once."""

    __tablename__ = "request_key"

    key: str = Field(primary_key=True, max_length=200)
    device_id: int | None = Field(default=None, foreign_key="device.id")
    request_hash: str
    answer: str
    created_at: datetime = Field(sa_type=Moment)
