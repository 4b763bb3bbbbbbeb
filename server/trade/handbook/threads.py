"""Handbook calculations on screw threads: limits, tapping, wires, infeed, engagement, drill sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.drills import ACCEPTS as DRILL_ACCEPTS
from server.trade.drills import KINDS, DrillKind, nearest_drills, read_drill
from server.trade.errors import Impossible, Unreadable
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.thread_designation import ACCEPTS, ThreadDesignation, parse_thread, thread_limits
from server.trade.thread_engagement import CAUTION as ENGAGEMENT_CAUTION
from server.trade.thread_engagement import engagement
from server.trade.thread_infeed import FORMS, infeed, pass_depths
from server.trade.thread_measuring import METHODS as WIRE_METHODS
from server.trade.thread_measuring import pitch_diameter_nm, readings_over_wires, wires_for
from server.trade.thread_tapping import METHODS as PERCENT_METHODS
from server.trade.thread_tapping import tap_drill_nm, tap_drills, thread_percent

_GROUP: Final = "Threads"
_AS_WRITTEN: Final = "as its class says"
_GAUGES: Final[dict[str, tuple[DrillKind, ...]]] = {
    "all": KINDS,
    "metric": ("metric",),
    "number, letter and fraction": ("number", "letter", "fraction"),
    **{kind: (kind,) for kind in KINDS if kind != "metric"},
}
_THREAD: Final = Input("thread", "Thread", "text", hint="a thread such as M8, M8×1, 1/4-20 or #10-32")
_PERCENT_METHOD: Final = Input(
    "method",
    "Full thread means",
    "choice",
    choices=PERCENT_METHODS,
    default="1.299P",
    hint="1.299P: three quarters of H, as most charts; 1.0825P: the basic height of ISO 68-1 and ASME B1.1",
)
_WIRE_METHOD: Final = Input("method", "Method", "choice", choices=WIRE_METHODS, default="lead angle")


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _percent(label: str, value: float) -> Output:
    return Output(label, value, unit="%", decimals=1)


def _read(inputs: Mapping[str, Any]) -> ThreadDesignation:
    found = parse_thread(inputs["thread"], field="thread")
    if found is None:
        raise Unreadable("thread", inputs["thread"], "it is not a thread", ACCEPTS)
    return found


def _limits(inputs: Mapping[str, Any]) -> Sequence[Output]:
    internal = {_AS_WRITTEN: None, "external": False, "internal": True}[inputs["side"]]
    found = thread_limits(inputs["thread"], internal=internal, field="thread")
    rows = (
        ("Major diameter, lowest", found.major_low_nm, ""),
        ("Major diameter, highest", found.major_high_nm, ""),
        ("Pitch diameter, lowest", found.pitch_low_nm, ""),
        ("Pitch diameter, highest", found.pitch_high_nm, ""),
        ("Minor diameter, lowest", found.minor_low_nm, "" if found.internal else "rounded root, for reference"),
        ("Minor diameter, highest", found.minor_high_nm, ""),
        ("Minor diameter of a rounded root, highest", found.root_high_nm, "UNR, for reference"),
        ("Allowance", found.allowance_nm, "from the basic size"),
    )
    return (
        Output("Thread", found.designation, "text", note=found.note),
        *(_length(label, value, note) for label, value, note in rows if value is not None),
        Output("By", found.standard, "text"),
    )


def _tap_drill(inputs: Mapping[str, Any]) -> Sequence[Output]:
    thread = _read(inputs)
    method, percent = inputs["method"], inputs["percent"]
    outputs = [_length("Hole for this percentage", tap_drill_nm(thread.nominal_nm, thread.pitch_nm, percent, method))]
    kinds = _GAUGES[inputs["gauge"]]
    for choice in tap_drills(thread.nominal_nm, thread.pitch_nm, percent, method, kinds=kinds):
        note = f"{choice.percent_by_1299:.1f} % by 1.299P, {choice.percent_by_10825:.1f} % by 1.0825P"
        outputs.append(_length(f"Drill {choice.drill.name}", choice.drill.diameter_nm, note))
    hole = thread_limits(thread, internal=True) if thread.thread_class is None or thread.internal else None
    if hole is not None and hole.minor_low_nm is not None and hole.minor_high_nm is not None:
        outputs += [
            _length("Smallest hole its class allows", hole.minor_low_nm, hole.designation),
            _length("Largest hole its class allows", hole.minor_high_nm, hole.designation),
        ]
    return outputs


def _percent_from_drill(inputs: Mapping[str, Any]) -> Sequence[Output]:
    thread = _read(inputs)
    hole_nm = read_drill(inputs["drill"], field="drill")
    try:
        shares = [thread_percent(thread.nominal_nm, thread.pitch_nm, hole_nm, method) for method in PERCENT_METHODS]
    except Impossible as error:
        raise Impossible("drill", error.read, error.why, error.accepts) from error
    return (
        _length("Hole", hole_nm),
        *(_percent(f"Thread by {method}", share) for method, share in zip(PERCENT_METHODS, shares, strict=True)),
    )


def _three_wires(inputs: Mapping[str, Any]) -> Sequence[Output]:
    thread = _read(inputs)
    wires = wires_for(thread.pitch_nm)
    limits = thread_limits(thread, internal=False)
    wire_nm = wires.best_nm if inputs["wire_nm"] is None else inputs["wire_nm"]
    low_nm, high_nm = readings_over_wires(limits, thread.pitch_nm, wire_nm, inputs["method"])
    return (
        Output("Thread", limits.designation, "text", note=limits.note),
        _length("Best wire", wires.best_nm),
        _length("Smallest wire", wires.smallest_nm),
        _length("Largest wire", wires.largest_nm),
        _length("Wire reckoned with", wire_nm),
        _length("Reading over wires, lowest", low_nm),
        _length("Reading over wires, highest", high_nm),
        _length("Pitch diameter, lowest", limits.pitch_low_nm),
        _length("Pitch diameter, highest", limits.pitch_high_nm),
    )


def _wire_reading(inputs: Mapping[str, Any]) -> Sequence[Output]:
    thread = _read(inputs)
    found_nm = pitch_diameter_nm(inputs["over_wires_nm"], thread.pitch_nm, inputs["wire_nm"], inputs["method"])
    limits = thread_limits(thread, internal=False)
    return (
        _length("Pitch diameter", found_nm),
        _length("Over its lowest", found_nm - limits.pitch_low_nm, f"{limits.designation}; negative: too small"),
        _length("Under its highest", limits.pitch_high_nm - found_nm, "negative: metal left"),
    )


def _infeed(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = infeed(_read(inputs).pitch_nm, inputs["form"], inputs["compound_deg"])
    outputs = [
        _length("Depth, square in", found.radial_nm, "on the radius"),
        _length("Depth, square in, on a diameter dial", found.diameter_nm),
        _length("Depth along the compound slide", found.compound_nm),
        _length("The tool moves sideways", found.sideways_nm),
    ]
    if inputs["passes"] is not None:
        depths = pass_depths(found.compound_nm, inputs["passes"])
        outputs += [_length(f"Compound after pass {number}", depth) for number, depth in enumerate(depths, 1)]
    return outputs


def _engagement(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = engagement(
        inputs["thread"],
        inputs["bolt_strength_n_per_mm2"],
        inputs["nut_strength_n_per_mm2"],
        inputs["length_nm"],
        shear_ratio=inputs["shear_ratio"],
    )
    if inputs["clamp_n"] is not None and inputs["length_nm"] is None:
        raise Unreadable(
            "length_nm", "", "a clamp load is set against the engagement there is", "the length of full threads"
        )
    outputs = [
        _length("Engagement needed", found.needed_nm, "of full threads, so that the bolt breaks first"),
        _length("Needed by the bolt's thread", found.needed_external_nm),
        _length("Needed by the nut's thread", found.needed_internal_nm),
        Output("The bolt breaks at", found.bolt_breaks_n / 1000, unit="kN", decimals=2),
    ]
    if found.strips_external_n is not None and found.strips_internal_n is not None:
        outputs += [
            Output("The bolt's thread strips at", found.strips_external_n / 1000, unit="kN", decimals=2),
            Output("The nut's thread strips at", found.strips_internal_n / 1000, unit="kN", decimals=2),
            Output("What gives way first", found.fails_first, "text"),
        ]
        if inputs["clamp_n"] is not None:
            weakest = min(found.bolt_breaks_n, found.strips_external_n, found.strips_internal_n)
            outputs.append(Output("Weakest against the clamp load", weakest / inputs["clamp_n"], decimals=2))
    return outputs


def _drill_sizes(inputs: Mapping[str, Any]) -> Sequence[Output]:
    diameter_nm = read_drill(inputs["drill"], field="drill")
    below, above = nearest_drills(diameter_nm, each_side=3, kinds=_GAUGES[inputs["gauge"]])
    return (
        _length("Diameter", diameter_nm),
        *(_length(f"{each.name}", each.diameter_nm, each.kind) for each in (*reversed(below), *above)),
    )


_DRILL: Final = Input("drill", "Drill", "text", hint=DRILL_ACCEPTS)
_GAUGE: Final = Input("gauge", "Drills to choose from", "choice", choices=tuple(_GAUGES), default="all")

CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="thread-limits",
        group=_GROUP,
        title="Limits of a screw thread",
        asks="Between which sizes must M8×1-6g or 1/4-20 UNC-2B lie?",
        inputs=(
            Input("thread", "Thread", "text", hint="a thread such as M8×1-6g, M8-6H, 1/4-20 UNC-2A, #10-32"),
            Input(
                "side",
                "Which side",
                "choice",
                choices=(_AS_WRITTEN, "external", "internal"),
                default=_AS_WRITTEN,
                hint="where no class is written: external takes 6g or 2A, internal 6H or 2B",
            ),
        ),
        work=_limits,
        formula="metric: Td2(6) = 90 P^0.4 d^0.1, Td(6) = 180 P^(2/3) − 3.15/√P µm, to R40; "
        "Unified: Td2(2A) = 0.0015 ∛D + 0.0015 √Le + 0.015 ∛P² in, Td = 0.06 ∛P² in",
        source="ISO 965-1:1998, ISO 724, ISO 261; ASME B1.1-2003, ASME B1.30-2002",
    ),
    Calculation(
        id="tap-drill",
        group=_GROUP,
        title="Tap drill",
        asks="Which drill leaves so many percent of thread?",
        inputs=(
            _THREAD,
            Input("percent", "Wanted thread", "number", "%", default="75", least=1, greatest=120),
            _PERCENT_METHOD,
            _GAUGE,
        ),
        work=_tap_drill,
        formula="hole = D − 1.299 P × percent/100, or D − 1.0825 P × percent/100",
        source="Machinery's Handbook 31st ed., tap drill sizes (1.299/n); ISO 68-1, ASME B1.1-2003 (1.0825 P)",
    ),
    Calculation(
        id="thread-percent",
        group=_GROUP,
        title="Thread left by a drill",
        asks="How many percent of thread does this hole leave?",
        inputs=(_THREAD, _DRILL),
        work=_percent_from_drill,
        formula="percent = 100 (D − hole) / (1.299 P), or / (1.0825 P)",
        source="Machinery's Handbook 31st ed., tap drill sizes (1.299/n); ISO 68-1, ASME B1.1-2003 (1.0825 P)",
    ),
    Calculation(
        id="three-wires",
        group=_GROUP,
        title="Wires for a thread, and what to read over them",
        asks="Which wires, and what should the micrometer read?",
        inputs=(
            Input(
                "thread", "Thread", "text", hint="an external thread such as M8×1-6g or 1/2-13 UNC-2A; 6g or 2A else"
            ),
            Input("wire_nm", "Wires there are", "length", optional=True, hint="empty: the best wire"),
            _WIRE_METHOD,
        ),
        work=_three_wires,
        formula="best wire 0.57735 P; M = E + 3 W − 0.866025 P, with the lead angle + 0.75 W tan² B, tan B = P/(π E)",
        source="NBS Handbook H28 (1944), FED-STD-H28, as in Machinery's Handbook 31st ed. p. 2127",
    ),
    Calculation(
        id="pitch-diameter",
        group=_GROUP,
        title="Pitch diameter from a reading over wires",
        asks="What is the pitch diameter when the micrometer reads this over wires?",
        inputs=(
            _THREAD,
            Input("wire_nm", "Wires", "length", hint="the measured diameter of the wires"),
            Input("over_wires_nm", "Reading over wires", "length", hint="what the micrometer reads"),
            _WIRE_METHOD,
        ),
        work=_wire_reading,
        formula="E = M − 3 W + 0.866025 P, with the lead angle − 0.75 W tan² B, tan B = P/(π E)",
        source="NBS Handbook H28 (1944), FED-STD-H28, as in Machinery's Handbook 31st ed. p. 2127",
    ),
    Calculation(
        id="thread-infeed",
        group=_GROUP,
        title="Infeed for a single-point thread",
        asks="How deep is the thread, and how far is that along the compound slide?",
        inputs=(
            _THREAD,
            Input("form", "Root the tool leaves", "choice", choices=FORMS, default=FORMS[0]),
            Input("compound_deg", "Compound slide from square", "number", "°", default="29.5", least=0, greatest=30),
            Input("passes", "Passes", "whole", optional=True, least=1, greatest=60, hint="empty: only the depth"),
        ),
        work=_infeed,
        formula="0.6134 P rounded root, 0.5413 P flat P/4, 0.6495 P flat P/8, 0.7578 P sharp; compound = depth / cos; "
        "after pass k of n: depth √(k/n)",
        source="ISO 68-1, ASME B1.1-2003 (heights); compound angles and equal chip areas: common practice, no source",
    ),
    Calculation(
        id="thread-engagement",
        group=_GROUP,
        title="Thread engagement",
        asks="How long must the thread be engaged so that the bolt breaks before a thread strips?",
        inputs=(
            Input("thread", "Thread", "text", hint="a size without a class, such as M8, M8×1, 1/4-20"),
            Input(
                "bolt_strength_n_per_mm2", "Tensile strength of the bolt", "number", "N/mm²", least=10, greatest=3000
            ),
            Input("nut_strength_n_per_mm2", "Tensile strength of the nut", "number", "N/mm²", least=10, greatest=3000),
            Input("length_nm", "Engagement there is", "length", optional=True, hint="full threads only"),
            Input("clamp_n", "Clamp load", "number", "N", optional=True, least=1, hint="needs the engagement there is"),
            Input("shear_ratio", "Shear strength / tensile", "number", default="0.5", least=0.4, greatest=0.7),
        ),
        work=_engagement,
        formula="bolt: At Rm; bolt's thread: π n L D1max (1/(2n) + (d2min − D1max) tan 30°) × ratio × Rm; "
        "nut's thread: π n L dmin (1/(2n) + (dmin − D2max) tan 30°) × ratio × Rm",
        source="FED-STD-H28/2B, ASME B1.1-2003 appendix B, ISO 898-1 (stress area)",
        caution=ENGAGEMENT_CAUTION,
    ),
    Calculation(
        id="drill-sizes",
        group=_GROUP,
        title="Drill sizes",
        asks="How large is drill #7, F or 13/64, and which are next to it?",
        inputs=(_DRILL, _GAUGE),
        work=_drill_sizes,
        formula="a table",
        source="number and letter gauge: public-domain drill tables and Machinery's Handbook; metric: common practice",
    ),
)
