"""Handbook calculations on limits and fits: ISO 286 limits, ISO fits, ANSI B4.1 inch fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.inch_fits import ANSI_CLASSES, ansi_fit
from server.trade.iso286 import Fit, fit, iso286_limits
from server.trade.length import format_length

_PRESSING: Final = (
    "A starting point, not a ruling. Parts forced, heated or chilled together can burst, jump or burn: for "
    "interference follow the makers of bearings, bushes and presses, and check the stress in the hub."
)


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _iso_limits(inputs: Mapping[str, Any]) -> Sequence[Output]:
    nominal_nm: int = inputs["nominal_nm"]
    low_nm, high_nm = iso286_limits(nominal_nm, inputs["code"])
    return (
        _length("Lowest size", low_nm),
        _length("Highest size", high_nm),
        _length("Lower deviation", low_nm - nominal_nm),
        _length("Upper deviation", high_nm - nominal_nm),
        _length("Tolerance", high_nm - low_nm),
    )


def _fit_outputs(found: Fit, note: str = "") -> tuple[Output, ...]:
    return (
        _length("Hole, lowest", found.hole_low_nm),
        _length("Hole, highest", found.hole_high_nm),
        _length("Shaft, lowest", found.shaft_low_nm),
        _length("Shaft, highest", found.shaft_high_nm),
        _length("Least clearance", found.least_clearance_nm, "negative: interference"),
        _length("Greatest clearance", found.greatest_clearance_nm, "negative: interference"),
        Output("Fit", found.kind, "text", note=note),
    )


def _iso_fit(inputs: Mapping[str, Any]) -> Sequence[Output]:
    return _fit_outputs(fit(inputs["nominal_nm"], inputs["code"]))


def _ansi_fit(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = ansi_fit(inputs["nominal_nm"], inputs["fit_class"])
    over, to = format_length(found.over_nm, "in"), format_length(found.to_nm, "in")
    return _fit_outputs(found, f"range over {over} to {to} in; figures {found.standing}")


_NOMINAL: Final = Input("nominal_nm", "Nominal size", "length", hint="a size such as 25 or 1/2 in")

CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="iso-limits",
        group="Limits and fits",
        title="ISO 286 limits of a size",
        asks="Between which two sizes does 25 H7 lie?",
        inputs=(_NOMINAL, Input("code", "Tolerance class", "text", hint="a class such as H7, g6 or js9")),
        work=_iso_limits,
        formula="holes A–H: EI = table, ES = EI + IT; shafts a–h: es = −table, ei = es − IT; JS, js: ±IT/2; "
        "shafts k–zc: ei = table, es = ei + IT; holes K–ZC: ES = −table + Δ, EI = ES − IT; Δ = ITn − IT(n−1)",
        source="ISO 286-1:2010 tables 1 to 5",
    ),
    Calculation(
        id="iso-fit",
        group="Limits and fits",
        title="ISO fit",
        asks="How much clearance or interference does H7/g6 give?",
        inputs=(_NOMINAL, Input("code", "Fit", "text", hint="hole, stroke, shaft, such as H7/g6")),
        work=_iso_fit,
        formula="least clearance = lowest hole − highest shaft; greatest clearance = highest hole − lowest shaft",
        source="ISO 286-1:2010 tables 1 to 5",
        caution=_PRESSING,
    ),
    Calculation(
        id="ansi-fit",
        group="Limits and fits",
        title="ANSI B4.1 inch fit",
        asks="What are the hole and the shaft of an RC4 fit?",
        inputs=(_NOMINAL, Input("fit_class", "Class", "choice", choices=ANSI_CLASSES, default="RC4")),
        work=_ansi_fit,
        formula="hole = nominal size to nominal size + tolerance; shaft = nominal size + the two limits of the table",
        source="ANSI B4.1-1967, tables of RC, LC, LT, LN and FN fits up to 19.69 in",
        caution=_PRESSING,
    ),
)
