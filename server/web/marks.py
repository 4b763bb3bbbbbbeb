"""What a printed code points at: /m/p/7 is a piece, /m/o/3 an operation; and the code itself, drawn."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse

from server.addresses import is_loopback, shop_addresses
from server.log.entries import the_piece
from server.plan.named import the_operation

router = APIRouter()

QUIET_MODULES = 4  # the white edge a reader needs: ISO/IEC 18004 (from memory)


@router.get("/m/p/{piece_id}")
def scanned_piece(request: Request, piece_id: int) -> RedirectResponse:
    with request.app.state.database.read() as connection:
        the_piece(connection, piece_id)
    return RedirectResponse(f"/pieces/{piece_id}", 303)


@router.get("/m/o/{operation_id}")
def scanned_operation(request: Request, operation_id: int) -> RedirectResponse:
    with request.app.state.database.read() as connection:
        the_operation(connection, operation_id)
    return RedirectResponse(f"/operations/{operation_id}/start", 303)


@dataclass(frozen=True, slots=True)
class Code:
    """A QR code as one SVG path of dark modules, on a square of `side` modules with its quiet edge."""

    address: str
    side: int
    path: str


def code_of(address: str) -> Code:
    """The code that holds an address, drawn as rows of dark modules. Level M bears 15 % of it smeared or scratched
    (ISO/IEC 18004, from memory)."""
    import segno

    matrix = segno.make_qr(address, error="m", boost_error=True).matrix
    strokes = []
    for row, modules in enumerate(matrix):
        column = 0
        while column < len(modules):
            start = column
            while column < len(modules) and modules[column]:
                column += 1
            if column > start:
                strokes.append(f"M{start + QUIET_MODULES} {row + QUIET_MODULES}h{column - start}v1h{start - column}z")
            column += 1
    return Code(address, len(matrix) + 2 * QUIET_MODULES, "".join(strokes))


def hosts_to_print(request: Request) -> list[str]:
    """The hosts an address on paper may name, the best first: a name that other devices can reach.

    That which the viewer uses; before it, where that is a name for this computer alone, the addresses it has in the
    shop's network (if it is open to the shop).
    """
    used = request.headers["host"]
    settings = request.app.state.settings
    if not only_here(used):
        return [used]
    in_shop = [] if is_loopback(settings.host) else shop_addresses(settings.host)
    port = request.url.port or (443 if request.url.scheme == "https" else 80)
    return [*(f"[{each}]:{port}" if ":" in each else f"{each}:{port}" for each in in_shop), used]


def only_here(host: str) -> bool:
    """Whether no other device can find this computer by a host."""
    name = host.removeprefix("[").split("]")[0] if host.startswith("[") else host.rsplit(":", 1)[0]
    return is_loopback(name)
