"""Every action as an address: POST /api/<its path> with the action as JSON and a key of the client's own."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Request

from server.log.events import (
    AcceptDeviation,
    FitPiece,
    LogEvent,
    MistakenPiece,
    ScrapPiece,
    TakeBackEvent,
    TakeOffPiece,
)
from server.log.perform import perform
from server.log.photos import TakeBackPhoto
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeBackReading, TakeReading
from server.log.runs import CutAgain, FinishRun, StartRun
from server.plan.builds import AddBuild, EditBuild
from server.plan.dimensions import AddDimension, EditDimension, RetireDimension
from server.plan.operations import AddOperation, EditOperation, RetireOperation
from server.plan.parts import AddPart, EditPart
from server.records.load_plan import LoadPlan
from server.store.action import Action, Problem, Refused
from server.store.devices import RenameDevice, RevokeDevice
from server.web.api.after_reading import after_reading
from server.web.api.body import json_body
from server.web.session import Visitor, may_write

ACTIONS: tuple[type[Action], ...] = (
    AddBuild,
    EditBuild,
    AddPart,
    EditPart,
    AddOperation,
    EditOperation,
    RetireOperation,
    AddDimension,
    EditDimension,
    RetireDimension,
    LoadPlan,
    StartPieces,
    StartRun,
    FinishRun,
    CutAgain,
    TakeReading,
    CorrectReading,
    TakeBackReading,
    ScrapPiece,
    MistakenPiece,
    AcceptDeviation,
    FitPiece,
    TakeOffPiece,
    LogEvent,
    TakeBackEvent,
    TakeBackPhoto,
    RenameDevice,
    RevokeDevice,
)

router = APIRouter(prefix="/api", tags=["actions"])


def _add(action: type[Action]) -> None:
    # The body is read by the action itself, so that a screen and a program are told the same in the same words.
    def carry_out(
        request: Request,
        data: Annotated[Any, Depends(json_body)],
        visitor: Annotated[Visitor, Depends(may_write)],
        idempotency_key: Annotated[str, Header(max_length=200)] = "",
    ) -> dict[str, Any]:
        if not idempotency_key:
            why = "every write carries a key of its own, so that it is done once however often it arrives"
            raise Refused(Problem("Idempotency-Key", "", why, "a header with a new random text for each thing done"))
        answer = perform(request.app.state.database, action.read(data), idempotency_key, visitor.device_id)
        if action in (TakeReading, CorrectReading):
            answer |= after_reading(request, answer["piece_id"], answer["dimension_id"])
        return answer

    router.add_api_route(
        f"/{action.path}",
        carry_out,
        methods=["POST"],
        name=action.path,
        summary=action.title,
        description=action.__doc__ or action.title,
    )


for _each in ACTIONS:
    _add(_each)
