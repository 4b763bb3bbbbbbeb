"""Letting devices in: the page on the shop's own screen, the one-time code it shows, and the page where it is typed.

The code travels in the part of an address after #, which browsers send to nobody, and in the body of a POST: never in
a query, which is kept in logs and histories (RFC 3986, 3.5; OWASP on session management; from memory).
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import Field

from server.addresses import is_loopback, shop_addresses
from server.settings import Settings
from server.store.action import Action, Problem, Refused
from server.store.base import now
from server.store.devices import DeviceName, Role, all_devices, let_in, new_secret
from server.web.api.body import json_body
from server.web.invitations import LIFE_S, NotInvited, as_typed, could_be_a_code
from server.web.pages import page
from server.web.session import Visitor, keep_secret, may_write, visitor_of

router = APIRouter()

_WORD = "8 letters and figures, such as CD34-6GHJ"


class Invite(Action):
    """Ask for a one-time code for a device that may write (editor) or only look (viewer)."""

    path: ClassVar[str] = "invite"
    title: ClassVar[str] = "Make a one-time code for a device"

    role: Role
    who: Annotated[str, Field(max_length=80)] = ""


class Pair(Action):
    """Use a one-time code up and become a named device."""

    path: ClassVar[str] = "pair"
    title: ClassVar[str] = "Pair this device"

    code: Annotated[str, Field(max_length=40)] = ""
    name: DeviceName
    who: Annotated[str, Field(max_length=80)] = ""


@router.get("/devices")
def devices(request: Request, visitor: Annotated[Visitor, Depends(may_write)]) -> HTMLResponse:
    settings = request.app.state.settings
    with request.app.state.database.read() as connection:
        rows = all_devices(connection)
    return page(
        request,
        "devices.html",
        visitor=visitor,
        let_in=[each for each in rows if each.revoked_at is None],
        gone=[each for each in rows if each.revoked_at is not None],
        opened=not is_loopback(settings.host),
        addresses=_addresses(request),
        https=bool(settings.https_port),
        fingerprint=_fingerprint(settings) if settings.https_port else "",
        ends_after={role: round(life / 60) for role, life in LIFE_S.items()},
    )


@router.get("/pair")
def pair_page(request: Request) -> HTMLResponse:
    return page(request, "pair.html", visitor=visitor_of(request), https=bool(request.app.state.settings.https_port))


@router.get("/devices/ca.crt")
def certificate(request: Request) -> Response:
    """The certificate a tablet must trust before it can use https. It is no secret; its key stays here."""
    settings = request.app.state.settings
    if not settings.https_port:
        raise HTTPException(404)
    from server import tls

    headers = {"Content-Disposition": 'attachment; filename="matchmark-ca.crt"'}
    return Response(tls.ca_certificate(settings.tls), media_type="application/x-x509-ca-cert", headers=headers)


@router.post("/api/invite")
def invite(
    request: Request, data: Annotated[Any, Depends(json_body)], visitor: Annotated[Visitor, Depends(may_write)]
) -> dict[str, Any]:
    """A new code, and a picture for each address at which it can be used. Nothing of it is kept on the disk."""
    import segno

    asked = Invite.read(data)
    addresses = _addresses(request)
    if not addresses:
        why = "no other device can reach this server: it is open to this computer only"
        raise Refused(Problem("role", "", why, "a server started with --lan, on a computer that is on a network"))
    made = request.app.state.invitations.make(asked.role)
    links = [f"{address}/pair#{made.code}" for address in addresses]
    return {
        "role": made.role,
        "code": f"{made.code[:4]}-{made.code[4:]}",
        "life_s": LIFE_S[made.role],
        "links": [{"address": link, "picture": segno.make(link, error="m").svg_data_uri(scale=6)} for link in links],
    }


@router.post("/api/pair")
def pair(request: Request, data: Annotated[Any, Depends(json_body)]) -> JSONResponse:
    asked = Pair.read(data)
    before = visitor_of(request)
    if before is not None and before.role == "host":
        raise Refused(Problem("code", "", "this is the shop's own computer, which needs no pairing", ""))
    code = as_typed(asked.code)
    if not could_be_a_code(code):
        raise Refused(Problem("code", asked.code, "it cannot be a code" if code else "nothing was entered", _WORD))
    try:
        role = request.app.state.invitations.redeem(code)
    except NotInvited as error:
        why = "it is not the code that is open now, or it was used, is too old, or was tried wrongly five times"
        raise Refused(
            Problem("code", asked.code, why, "a new code from the page Devices of the shop's computer")
        ) from error
    secret, moment = new_secret(), now()
    instead_of = before.device_id if before is not None else None
    request.app.state.database.write(
        lambda connection: let_in(connection, asked.name, role, secret, moment, instead_of)
    )
    answer = JSONResponse({"role": role, "page": "/"})
    keep_secret(answer, secret, https=request.url.scheme == "https")
    return answer


def _fingerprint(settings: Settings) -> str:
    from server import tls  # and the cryptography behind it: only where https is asked for

    return tls.fingerprint(settings.tls)


def _addresses(request: Request) -> list[str]:
    """Where a device in the shop can reach this server; the safer way first, if there is one."""
    settings = request.app.state.settings
    found = [f"[{each}]" if ":" in each else each for each in shop_addresses(settings.host)]
    plain = [f"http://{each}:{settings.port}" for each in found]
    return ([f"https://{each}:{settings.https_port}" for each in found] if settings.https_port else []) + plain
