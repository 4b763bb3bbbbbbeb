"""Rendering a page: the templates, what every page knows, and how lengths and times are written on it."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any, cast
from urllib.parse import unquote

from fastapi import Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from server.rules.next_move import shown
from server.rules.scale import scale_of
from server.settings import TEMPLATES
from server.trade.length import Unit, format_length, format_signed
from server.trade.starting_speeds import CAUTION
from server.trade.thread_over_wires import OverWires

UNIT_COOKIE = "unit"
WHO_COOKIE = "who"


def viewer_unit(request: Request, of_build: str = "mm") -> Unit:
    """The unit this viewer chose, or else that of the build."""
    chosen = request.cookies.get(UNIT_COOKIE)
    return cast(Unit, chosen if chosen in ("mm", "in") else of_build)


def viewer_name(request: Request) -> str:
    return unquote(request.cookies.get(WHO_COOKIE, ""))[:80]


def page(request: Request, template: str, status: int = 200, build: Any = None, **context: Any) -> HTMLResponse:
    """A rendered page. `build` is the build's row where the page is about one: its unit is the viewer's default."""
    unit = viewer_unit(request, build.unit if build is not None else "mm")
    everywhere = {
        "build": build,
        "unit": unit,
        "who": viewer_name(request),
        "show": lambda nm: shown(nm, unit),
        "show_exact": lambda nm: format_length(nm, unit),
        "show_signed": lambda nm: format_signed(nm, unit, 3 if unit == "mm" else 4),
        "feed": lambda nm: format_length(round(nm), unit, 0 if unit == "mm" else 1),
        "caution": CAUTION,
        "demo": request.app.state.settings.demo,
        "may_look_only": not getattr(getattr(request.state, "visitor", None), "may_write", True),
        "role": getattr(getattr(request.state, "visitor", None), "role", ""),  # "" for a device that is not paired
        "place": getattr(request.state, "place", ""),  # how far the log had come, on a page that stays up to date
    }
    return cast(HTMLResponse, _templates.TemplateResponse(request, template, everywhere | context, status_code=status))


def _moment(value: datetime) -> str:
    """In the time of the shop's own clock: the server stands there."""
    return value.astimezone().strftime("%Y-%m-%d %H:%M")


def _iso(value: datetime) -> str:
    return value.astimezone(UTC).isoformat(timespec="seconds")


def css_mm(nm: int) -> str:
    """A length as a style sheet takes it, exact: 63.5mm."""
    return f"{format_length(nm, 'mm')}mm"


_HAS_UNIT = re.compile(r"""["″]|(?:\d|\b)(?:mm|in|inch|inches|thou|tenths?|µm|um)\b""")


def _with_unit(text: str, unit: str) -> str:
    """What was typed, with the unit it was meant in where it does not say so itself."""
    return text if _HAS_UNIT.search(text) else f"{text} {unit}"


def _minutes(value: float | None) -> str:
    return "" if value is None else f"{value:g} min"


def wires_in_words(wires: OverWires, unit: Unit) -> str:
    """What to read over three wires, in one line."""
    low, high = shown(wires.low_nm, unit), shown(wires.high_nm, unit)
    return f"pitch diameter; over three {shown(wires.wire_nm, unit)} {unit} wires read {low} to {high}"


def _make_environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(css_mm=css_mm, moment=_moment, iso=_iso, minutes=_minutes)
    environment.filters.update(wires_in_words=wires_in_words, with_unit=_with_unit)
    environment.globals.update(scale_of=scale_of)
    return environment


environment = _make_environment()
_templates = Jinja2Templates(env=environment)
