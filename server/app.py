"""The application: the pages, the API and the database behind them, put together for one data folder."""

from __future__ import annotations

import sqlite3
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import Depends, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.staticfiles import StaticFiles

from server.addresses import OwnNames, is_loopback
from server.settings import STATIC, Settings
from server.store.database import Database
from server.web import (
    boards,
    builds,
    cards,
    handbook,
    labels,
    logs,
    machine,
    marks,
    pairing,
    parts,
    photos,
    pieces,
    program,
    record_files,
    sheets,
    telling,
)
from server.web.api import actions, changes, preview, reads
from server.web.api import handbook as handbook_api
from server.web.api import photos as photos_api
from server.web.api.description import describe
from server.web.guard import Guard
from server.web.invitations import Invitations
from server.web.live import note_place
from server.web.session import COOKIES, Session


def create_app(settings: Settings) -> FastAPI:
    """The application for one data folder, opened (and locked) when the server starts, closed when it ends."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        database = await run_in_threadpool(Database, settings)
        app.state.database = database
        try:
            yield
        finally:
            await run_in_threadpool(database.close)

    app = FastAPI(
        title="Matchmark",
        summary="Build-and-operations log of a one-person machine shop",
        version="0.1.0",
        docs_url=None,  # FastAPI's own page loads its scripts from elsewhere
        redoc_url=None,
        openapi_url=None,  # served under /api/openapi.json
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.sqlite_version = sqlite3.sqlite_version
    telling.install(app)
    app.state.invitations = Invitations()
    app.add_middleware(Session)
    # The one added last stands outermost: the guard first, then who it is, then the pages.
    own_names = () if is_loopback(settings.host) else OwnNames()
    app.add_middleware(Guard, names=settings.allowed_hosts, own_names=own_names, cookies=COOKIES)
    for module in (builds, parts, sheets, photos, labels, cards, marks, record_files, handbook, program, pairing):
        app.include_router(module.router, include_in_schema=False)
    for module in (boards, machine, pieces, logs):  # after /builds/new, which is no number of a build
        app.include_router(module.router, include_in_schema=False, dependencies=[Depends(note_place)])
    for api in (actions, preview, reads, changes, photos_api, handbook_api):
        app.include_router(api.router)
    describe(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app
