"""What the pad shows the moment a reading is saved: the verdict, the next move, the drawn scale, where the piece is."""

from __future__ import annotations

from typing import Any

from fastapi import Request
from sqlalchemy import select

from server.log.at_machine import Measured, measured
from server.log.entries import the_piece
from server.log.kept_tables import PieceState
from server.plan.named import the_build
from server.rules.next_move import shown
from server.rules.scale import scale_of
from server.trade.length import Unit
from server.web.pages import environment, viewer_unit


def after_reading(request: Request, piece_id: int, dimension_id: int) -> dict[str, Any]:
    with request.app.state.database.read() as connection:
        unit = viewer_unit(request, the_build(connection, the_piece(connection, piece_id).build_id).unit)
        dimensions = {each.dimension_id: each for each in measured(connection, piece_id, unit)}
        standing = connection.execute(
            select(PieceState.state, PieceState.next_move).where(PieceState.piece_id == piece_id)
        ).one()
    piece = {"state": standing.state, "next_move": standing.next_move}
    here = dimensions.get(dimension_id)
    if here is None:  # a reading corrected on a dimension that is no longer asked for
        return {"piece": piece}
    return {
        "verdict": here.verdict.word if here.verdict else "",
        "beyond_nm": here.verdict.beyond_nm if here.verdict else 0,
        "sentence": here.move.sentence if here.move else "",
        "shown": shown(here.value_nm, unit) if here.value_nm is not None else "",
        "drawing": drawn(here, unit),
        "piece": piece,
    }


def drawn(here: Measured, unit: Unit) -> str:
    """The dimension's scale as SVG, as the page itself draws it."""
    module: Any = environment.get_template("drawings.html").module
    return str(module.dimension_scale(scale_of(here.limits, here.history_nm, unit=unit), here.name, "30rem"))
