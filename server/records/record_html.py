"""A record as one HTML file that stands on its own: it opens in years, with no program and no network, and prints.

Styles and drawings are inside it, nothing is fetched and nothing runs. Everything a person typed is escaped, and set
apart from the text around it (<bdi>), so that a name written from right to left does not turn its line about.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, tzinfo
from functools import cache
from types import MappingProxyType

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from server.log.runs import feed_as_said
from server.records.record_values import DimensionTold, LimitsTold, PieceTold, ReadingTold, Record, RunTold
from server.rules.next_move import shown
from server.rules.scale import Scale, scale_of
from server.settings import TEMPLATES
from server.trade.length import Unit, format_length

PIECES_ACROSS = 8  # what a page takes side by side in the table of sizes

# Characters that HTML forbids, and marks that turn the direction of whatever follows them.
_NOT_SHOWN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufdd0-\ufdef\ufffe\uffff]")


def as_html(
    record: Record, unit: Unit, zone: tzinfo | None = UTC, pictures: Mapping[int, str] = MappingProxyType({})
) -> str:
    """The record as the text of an HTML file.

    unit  what sizes are shown in; what was typed stands beside each
    zone  what times are shown in, None: as this computer's own clock told them, summer time and all; the record says
          which
    pictures  of the photographs, by their number, as data: addresses (server.records.record_pictures); a photograph
          without one is listed
    """
    return (
        _pages()
        .get_template("record.html")
        .render(
            record=record,
            unit=unit,
            pictures=pictures,
            across=list(_across(record.pieces)),
            size=lambda nm: shown(nm, unit),
            limits=lambda limits: limits_in(limits, unit),
            scale=lambda dimension, piece: scale_for(dimension, piece, unit),
            moment=lambda at: _moment(at, zone),
            zone="UTC" if zone is UTC else "the shop's own clock, each with its offset from UTC",
        )
    )


def limits_in(limits: LimitsTold, unit: Unit) -> str:
    """What a size may be, in figures: "24.980 to 25.020", "at most 0.800", "30.000 for reference"."""
    low, high = limits.low_nm, limits.high_nm
    if low is not None and high is not None:
        return f"{shown(low, unit)} to {shown(high, unit)}"
    if high is not None:
        return f"at most {shown(high, unit)}"
    if low is not None:
        return f"at least {shown(low, unit)}"
    return "for reference" if limits.nominal_nm is None else f"{shown(limits.nominal_nm, unit)} for reference"


def scale_for(dimension: DimensionTold, piece: PieceTold, unit: Unit) -> Scale | None:
    """The scale of a dimension with the piece's readings, under the limits its latest was made under; None without a
    reading that ever was."""
    readings = piece.readings_of(dimension.id)
    if not readings:
        return None
    standing = [each for each in readings if each.replaced is None]
    return scale_of(
        (standing or readings)[-1].limits.facts,
        [each.value_nm for each in standing],
        unit=unit,
        replaced=[each.value_nm for each in readings if each.replaced is not None],
    )


def said(text: object) -> Markup:
    """What a person typed, escaped and set apart from its surroundings; a line break stays one."""
    lines = plain(text).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return Markup('<bdi class="said">{}</bdi>').format(Markup("<br>").join(escape(line) for line in lines))


def plain(text: object) -> str:
    """What a person typed where no element may stand, in titles: without what cannot be shown."""
    return _NOT_SHOWN.sub("\ufffd", str(text))


def typed(reading: ReadingTold) -> str:
    """What was typed with the unit it was typed in, unless it says a unit itself."""
    if reading.entered_as == "deviation":
        return f"{reading.typed} {_unit_of(reading)}".rstrip() + " from nominal"
    return f"{reading.typed} {_unit_of(reading)}".rstrip()


def _unit_of(reading: ReadingTold) -> str:
    return "" if re.search(r"[^\W\d_]|[\"″”']", reading.typed) else reading.unit


def feed(run: RunTold) -> str:
    """The feed as it was typed, with the unit it was meant in."""
    return feed_as_said(run.feed_typed, run.feed_unit)


def number(value: float) -> str:
    """A figure without needless decimals."""
    return f"{value:.10g}"


def per_minute(nm: int, unit: Unit) -> str:
    """A feed a minute in `unit`, to a hundredth of a millimetre or a thousandth of an inch."""
    text = format_length(nm, unit, 2 if unit == "mm" else 3)
    return text.rstrip("0").rstrip(".") + f" {unit}/min"


def _across(pieces: tuple[PieceTold, ...]) -> Iterator[tuple[PieceTold, ...]]:
    for start in range(0, len(pieces), PIECES_ACROSS):
        yield pieces[start : start + PIECES_ACROSS]


def _moment(at: datetime, zone: tzinfo | None) -> Markup:
    shown = at.astimezone(zone)
    text = f"{shown:%Y-%m-%d %H:%M}" if zone is UTC else f"{shown:%Y-%m-%d %H:%M} {shown:%z}"
    return Markup('<time datetime="{}">{}</time>').format(at.astimezone(UTC).isoformat(), text)


@cache
def _pages() -> Environment:
    pages = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters.update(said=said, plain=plain, typed=typed, feed=feed, number=number, per_minute=per_minute)
    return pages
