"""A client before the real application, its database open in a folder of its own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.records.demo import put_demo_where_empty
from server.settings import Settings
from server.store.database import Database
from tests.web.web import ADDRESS, HERE, Web


@pytest.fixture
def web(settings: Settings) -> Iterator[Web]:
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE) as client:
        yield Web(client)


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory: pytest.TempPathFactory, new_file: Path) -> Path:
    """A database with the demo build in it, told once."""
    settings = Settings(data=tmp_path_factory.mktemp("demo"))
    shutil.copy(new_file, settings.database)
    database = Database(settings)
    assert put_demo_where_empty(database)
    database.close()
    return settings.database


@pytest.fixture
def demo_web(tmp_path: Path, demo_file: Path) -> Iterator[Web]:
    settings = Settings(data=tmp_path / "demo", demo=True)
    settings.data.mkdir()
    shutil.copy(demo_file, settings.database)
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE) as client:
        yield Web(client)
