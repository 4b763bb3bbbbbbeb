"""The store's own tables."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Field, SQLModel

from server.store.base import Moment


class RequestKey(SQLModel, table=True):
    """A client's key and the answer it got, written in the same transaction as the effect: once is once."""

    __tablename__ = "request_key"

    key: str = Field(primary_key=True, max_length=200)
    request_hash: str
    answer: str
    created_at: datetime = Field(sa_type=Moment)
