"""The route card: a page a piece for a bench without a tablet, and entering afterwards what was written on it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import Connection, select

from server.log.entries import the_piece
from server.log.gather import DEAD
from server.log.kept_tables import LatestReading, PieceOperation, PieceState
from server.plan.named import the_build, the_part
from server.plan.reading import part_plan
from server.records.label_sheets import Paper
from server.records.route_card import steps_of
from server.trade.length import NM_PER_MM
from server.web.marks import code_of, hosts_to_print
from server.web.pages import page

router = APIRouter()

CODE_NM = 20 * NM_PER_MM
BOXES = 3  # for readings, in the order in which they are taken


@router.get("/pieces/{piece_id}/card")
def card_of_piece(request: Request, piece_id: int, paper: Paper = "A4") -> HTMLResponse:
    with request.app.state.database.read() as connection:
        piece = the_piece(connection, piece_id)
        part = the_part(connection, piece.part_id)
        return _cards(request, connection, part, [piece], paper, f"/pieces/{piece_id}", f"card of {piece.mark}")


@router.get("/parts/{part_id}/cards")
def cards_of_part(request: Request, part_id: int, paper: Paper = "A4") -> HTMLResponse:
    """Of every piece that can still be worked on or measured."""
    with request.app.state.database.read() as connection:
        part = the_part(connection, part_id)
        pieces = connection.execute(
            select(PieceState.piece_id.label("id"), PieceState.mark, PieceState.hand)  # type: ignore[attr-defined]
            .where(PieceState.part_id == part_id, PieceState.state.not_in(DEAD))  # type: ignore
            .order_by(PieceState.piece_id)
        ).all()
        return _cards(request, connection, part, list(pieces), paper, f"/parts/{part_id}", f"cards of {part.number}")


def _cards(
    request: Request, connection: Connection, part: Any, pieces: list[Any], paper: Paper, back: str, called: str
) -> HTMLResponse:
    build = the_build(connection, part.build_id)
    base = f"{request.url.scheme}://{hosts_to_print(request)[0]}"
    return page(
        request,
        "card.html",
        build=build,
        part=part,
        cards=[(piece, code_of(f"{base}/m/p/{piece.id}")) for piece in pieces],
        steps=steps_of(part_plan(connection, part)),
        paper=paper,
        back=back,
        called=called,
        code_nm=CODE_NM,
        boxes=BOXES,
    )


@router.get("/pieces/{piece_id}/card-entry")
def card_entry(request: Request, piece_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        piece = the_piece(connection, piece_id)
        part = the_part(connection, piece.part_id)
        build = the_build(connection, piece.build_id)
        state = connection.execute(select(PieceState.state).where(PieceState.piece_id == piece_id)).scalar_one()
        at = connection.execute(
            select(PieceOperation.operation_id, PieceOperation.state).where(PieceOperation.piece_id == piece_id)
        )
        latest = connection.execute(
            select(LatestReading.dimension_id, LatestReading.value_nm).where(LatestReading.piece_id == piece_id)
        )
        return page(
            request,
            "card_entry.html",
            build=build,
            part=part,
            piece=piece,
            state=state,
            steps=steps_of(part_plan(connection, part)),
            at={row.operation_id: row.state for row in at},
            latest={row.dimension_id: row.value_nm for row in latest},
        )
