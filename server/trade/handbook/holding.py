"""Handbook calculations on bolts, clamps, packing and corners."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.bounds import say_length
from server.trade.corners import corner_left_nm, corner_seat, largest_cutter_nm
from server.trade.errors import Impossible, OutOfRange
from server.trade.fastening import CAUTION as BOLT_CAUTION
from server.trade.fastening import (
    NEWTON_M_PER_LBF_IN,
    NEWTONS_PER_LBF,
    NUT_FACTORS,
    STRENGTH_CLASSES,
    bolt_tension_n,
    metric_stress_area_mm2,
    preload_n,
    proof_load_n,
    strength,
    tightening_torque_newton_m,
    unified_stress_area_mm2,
)
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.workholding import (
    CAUTION,
    FRICTION,
    MOST_PIECES,
    choose_packing,
    clamping_needed_n,
    holding_force_n,
    strap_clamp,
    v_block_rise,
)

_BOLTS: Final = "Bolts"
_HOLDING: Final = "Holding work"
_CORNERS: Final = "Corners and keys"

_SURFACES: Final = tuple(NUT_FACTORS)
_BOLT: Final = Input("diameter_nm", "Bolt's diameter", "length", default="8 mm")
_PITCH: Final = Input("pitch", "Pitch", "number", default="1.25", least=0.05, greatest=200)
_METRIC, _INCH = "mm", "threads to the inch"
_PITCH_KIND: Final = Input("pitch_kind", "Pitch in", "choice", choices=(_METRIC, _INCH), default=_METRIC)
_CLASS: Final = Input("strength_class", "Strength class", "choice", choices=tuple(STRENGTH_CLASSES), default="8.8")
_SURFACE: Final = Input("surface", "Threads", "choice", choices=_SURFACES, default="plain steel, oiled")
_CLAMP: Final = Input("clamp_n", "Clamping force", "number", "N", default="10000", least=0.001)
_FRICTION: Final = Input("contact", "Faces that hold", "choice", choices=tuple(FRICTION), default=next(iter(FRICTION)))
_FACES: Final = Input("faces", "Faces holding", "whole", default="2", least=1, greatest=2)
_SAFETY: Final = Input("safety", "Safety factor", "number", default="2", least=1, greatest=20)


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _force(label: str, force_n: float, note: str = "") -> tuple[Output, Output]:
    pounds = force_n / NEWTONS_PER_LBF
    return Output(label, force_n, unit="N", decimals=0, note=note), Output(label, pounds, unit="lbf", decimals=0)


def _torque(label: str, torque_newton_m: float, note: str = "") -> tuple[Output, Output]:
    foot_pounds = torque_newton_m / NEWTON_M_PER_LBF_IN / 12
    return (
        Output(label, torque_newton_m, unit="N·m", decimals=1, note=note),
        Output(label, foot_pounds, unit="lbf·ft", decimals=1),
    )


def _area_mm2(inputs: Mapping[str, Any]) -> float:
    try:
        if inputs["pitch_kind"] == _METRIC:
            return metric_stress_area_mm2(inputs["diameter_nm"], round(inputs["pitch"] * 1_000_000))
        return unified_stress_area_mm2(inputs["diameter_nm"], inputs["pitch"])
    except OutOfRange as error:
        if error.field in ("pitch_nm", "threads_per_inch"):  # typed here as one figure and its kind
            raise OutOfRange("pitch", error.read, error.why, error.accepts) from error
        raise


def _stress_area(inputs: Mapping[str, Any]) -> Sequence[Output]:
    area, least_nm = _area_mm2(inputs), inputs["least_pitch_diameter_nm"]
    answers = [
        Output("Stress area", area, unit="mm²", decimals=2),
        Output("Stress area", area / 25.4**2, unit="in²", decimals=5),
    ]
    if least_nm is not None:
        if inputs["pitch_kind"] != _INCH:
            why = "the second formula is for inch threads"
            raise Impossible("least_pitch_diameter_nm", "a metric thread", why, "nothing, or threads to the inch")
        high = unified_stress_area_mm2(inputs["diameter_nm"], inputs["pitch"], "least pitch diameter", least_nm)
        note = "high-strength steel; found: above 180 ksi; older editions, from memory: above 100 ksi"
        answers.append(Output("By least pitch diameter", high, unit="mm²", decimals=2, note=note))
        answers.append(Output("By least pitch diameter", high / 25.4**2, unit="in²", decimals=5))
    return answers


def _bolt_torque(inputs: Mapping[str, Any]) -> Sequence[Output]:
    area, diameter_nm, factor = _area_mm2(inputs), inputs["diameter_nm"], NUT_FACTORS[inputs["surface"]]
    found = strength(inputs["strength_class"], diameter_nm)
    tension = preload_n(area, found.proof_mpa, inputs["share"])
    usual = tightening_torque_newton_m(tension, diameter_nm, factor.usual)
    least_n = bolt_tension_n(usual, diameter_nm, factor.greatest)
    most_n = bolt_tension_n(usual, diameter_nm, factor.least)
    past = "past the proof load if friction is so low" if most_n > proof_load_n(area, found.proof_mpa) else ""
    return (
        *_torque("Torque", usual, f"K {factor.usual:g}; {factor.standing}"),
        *_force("Tension meant", tension, found.standing),
        *_force("Tension, least to expect", least_n, f"K {factor.greatest:g}"),
        *_force("Tension, most to expect", most_n, f"K {factor.least:g}; {past}".rstrip("; ")),
        *_force("Proof load", proof_load_n(area, found.proof_mpa)),
    )


def _bolt_tension(inputs: Mapping[str, Any]) -> Sequence[Output]:
    factor = NUT_FACTORS[inputs["surface"]]
    torque, diameter_nm = inputs["torque_newton_m"], inputs["diameter_nm"]
    return (
        *_force("Tension, least", bolt_tension_n(torque, diameter_nm, factor.greatest), f"K {factor.greatest:g}"),
        *_force("Tension, usual", bolt_tension_n(torque, diameter_nm, factor.usual), f"K {factor.usual:g}"),
        *_force("Tension, most", bolt_tension_n(torque, diameter_nm, factor.least), f"K {factor.least:g}"),
    )


def _strap(inputs: Mapping[str, Any]) -> Sequence[Output]:
    share = strap_clamp(inputs["bolt_n"], inputs["bolt_to_work_nm"], inputs["bolt_to_heel_nm"])
    return *_force("On the work", share.work_n), *_force("On the heel block", share.heel_n)


def _packing(inputs: Mapping[str, Any]) -> Sequence[Output]:
    target_nm = inputs["thick_nm"] - inputs["thin_nm"]
    if target_nm < 0:
        raise Impossible(
            "thin_nm", say_length(inputs["thin_nm"]), "it is thicker than the thick end", "up to the thick end"
        )
    packing = choose_packing(inputs["available_nm"], target_nm)
    answers = [_length(f"Piece {number}", piece) for number, piece in enumerate(packing.pieces_nm, start=1)]
    answers += [
        _length("Together", packing.total_nm, "" if packing.pieces_nm else "nothing comes nearer than no packing"),
        _length("Wanted", target_nm),
        _length("Off", packing.off_nm, "+ too thick, − too thin"),
    ]
    if inputs["span_nm"]:
        answers.append(_length("Out of level in 100 mm", round(packing.off_nm * 100_000_000 / inputs["span_nm"])))
    return answers


def _v_block(inputs: Mapping[str, Any]) -> Sequence[Output]:
    rise = v_block_rise(inputs["to_nm"] - inputs["from_nm"], inputs["v_deg"])
    return _length("Centre rises", rise.centre_nm, "− falls"), _length("Top rises", rise.top_nm, "− falls")


def _corner(inputs: Mapping[str, Any]) -> Sequence[Output]:
    diameter_nm, radius_nm = inputs["cutter_diameter_nm"], inputs["corner_radius_nm"]
    left_nm = corner_left_nm(diameter_nm, radius_nm, inputs["corner_deg"])
    answers = [_length("Left in the corner", left_nm, "along the bisector; 0: the cutter reaches")]
    if radius_nm > 0:
        answers.append(_length("Largest cutter that reaches", largest_cutter_nm(radius_nm)))
    return answers


def _seat(inputs: Mapping[str, Any]) -> Sequence[Output]:
    seat = corner_seat(inputs["corner_radius_nm"], inputs["edge_nm"], inputs["edge_shape"])
    if seat.seats:
        answer = _length("Clear of the corner", seat.clearance_nm, "along the bisector")
        return Output("Seats on both walls", "yes", "text"), answer
    return Output("Seats on both walls", "no", "text"), _length("Stands off each wall", seat.stand_off_nm)


CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="bolt-torque",
        group=_BOLTS,
        title="Tightening torque of a bolt",
        asks="How tight should this bolt be, and what tension does that give?",
        inputs=(
            _BOLT,
            _PITCH,
            _PITCH_KIND,
            _CLASS,
            _SURFACE,
            Input("share", "Share of the proof load", "number", default="0.75", least=0.05, greatest=1),
        ),
        work=_bolt_torque,
        formula="F = share × proof stress × As; T = K F d",
        source="ISO 898-1 (from memory), SAE J429 (found); 75 % found citing Shigley; K as noted",
        caution=BOLT_CAUTION,
    ),
    Calculation(
        id="bolt-tension",
        group=_BOLTS,
        title="Tension of a bolt from its torque",
        asks="How hard does a bolt pull when tightened to this torque?",
        inputs=(
            Input("torque_newton_m", "Torque", "number", "N·m", default="20", least=0.001, greatest=100_000),
            _BOLT,
            _SURFACE,
        ),
        work=_bolt_tension,
        formula="F = T / (K d)",
        source="K ranges: a fastener supplier's engineering data (found), usual values from memory",
        caution=BOLT_CAUTION,
    ),
    Calculation(
        id="stress-area",
        group=_BOLTS,
        title="Stress area of a thread",
        asks="What area of a bolt carries its load?",
        inputs=(
            _BOLT,
            _PITCH,
            _PITCH_KIND,
            Input(
                "least_pitch_diameter_nm", "Least pitch diameter", "length", optional=True, hint="high strength, inch"
            ),
        ),
        work=_stress_area,
        formula="metric π/4 (d − 0.938194 P)²; inch 0.7854 (D − 0.9743/n)²; high strength π (Es/2 − 0.16238/n)²",
        source="ISO 898-1 (formula found); Machinery's Handbook 31, Table 4a and 30, as cited in public texts",
        caution=BOLT_CAUTION,
    ),
    Calculation(
        id="strap-clamp",
        group=_HOLDING,
        title="Strap clamp",
        asks="How much of the bolt's force comes onto the work?",
        inputs=(
            Input("bolt_n", "Bolt's tension", "number", "N", default="9000", least=0.001),
            Input("bolt_to_work_nm", "Bolt to work", "length", default="20 mm"),
            Input("bolt_to_heel_nm", "Bolt to heel block", "length", default="40 mm"),
        ),
        work=_strap,
        formula="on the work F b/(a + b), on the heel F a/(a + b); a to the work, b to the heel",
        source="law of the lever; a fixture-design text says the same (found)",
        caution=CAUTION,
    ),
    Calculation(
        id="holding-force",
        group=_HOLDING,
        title="What friction holds",
        asks="What sideways force may this clamping be trusted with?",
        inputs=(_CLAMP, _FRICTION, _FACES, _SAFETY),
        work=lambda inputs: _force(
            "Holds sideways",
            holding_force_n(inputs["clamp_n"], FRICTION[inputs["contact"]], inputs["faces"], inputs["safety"]),
            f"friction {FRICTION[inputs['contact']]:g}, from memory",
        ),
        formula="F μ faces / safety",
        source="Coulomb friction; coefficients from memory, on the low side",
        caution=CAUTION,
    ),
    Calculation(
        id="clamping-needed",
        group=_HOLDING,
        title="Clamping force needed",
        asks="How hard must work be clamped to stand this cutting force?",
        inputs=(
            Input("force_n", "Force to hold", "number", "N", default="500", least=0.001),
            _FRICTION,
            _FACES,
            _SAFETY,
        ),
        work=lambda inputs: _force(
            "Clamping force",
            clamping_needed_n(inputs["force_n"], FRICTION[inputs["contact"]], inputs["faces"], inputs["safety"]),
            f"friction {FRICTION[inputs['contact']]:g}, from memory",
        ),
        formula="force × safety / (μ faces)",
        source="Coulomb friction; coefficients from memory, on the low side",
        caution=CAUTION,
    ),
    Calculation(
        id="packing",
        group=_HOLDING,
        title="Packing to level an end of another thickness",
        asks="Which pieces under the thin end bring it level with the thick one?",
        inputs=(
            Input("thick_nm", "Thick end", "length", default="25 mm"),
            Input("thin_nm", "Thin end", "length", default="20.9 mm", hint="0: any stack to a height"),
            Input(
                "available_nm",
                "Pieces there are",
                "lengths",
                default="3mm 2mm 1.5mm 1mm 0.5mm 0.1mm",
                hint=f"measured thicknesses, each piece once, up to {MOST_PIECES}",
            ),
            Input("span_nm", "Between the supports", "length", optional=True),
        ),
        work=_packing,
        formula="of all stacks the nearest to the difference; of those the one with fewest pieces, then the thinner",
        source="every combination is tried; no rounding",
        caution=CAUTION,
    ),
    Calculation(
        id="v-block-rise",
        group=_HOLDING,
        title="Height in a V-block",
        asks="How does the height change when the work has another diameter?",
        inputs=(
            Input("from_nm", "Diameter set for", "length", default="20 mm"),
            Input("to_nm", "Diameter now", "length", default="20.1 mm"),
            Input("v_deg", "Angle of the V", "number", "°", default="90", least=1, greatest=179),
        ),
        work=_v_block,
        formula="centre ΔD / (2 sin(A/2)); top that + ΔD/2: 0.7071 and 1.2071 of ΔD for 90°",
        source="geometry",
    ),
    Calculation(
        id="corner-left",
        group=_CORNERS,
        title="What a cutter leaves in a corner",
        asks="Does this cutter reach the corner, and what does it leave?",
        inputs=(
            Input("cutter_diameter_nm", "Cutter's diameter", "length", default="6 mm"),
            Input("corner_radius_nm", "Corner radius wanted", "length", default="0 mm", hint="0: sharp"),
            Input("corner_deg", "Angle of the corner", "number", "°", default="90", least=1, greatest=179),
        ),
        work=_corner,
        formula="(r_cutter − r) (1/sin(A/2) − 1): 0.4142 of the difference in a square corner",
        source="geometry",
    ),
    Calculation(
        id="corner-seat",
        group=_CORNERS,
        title="A key or block in a round corner",
        asks="Does this edge go right into a corner the cutter left round?",
        inputs=(
            Input("corner_radius_nm", "Radius in the corner", "length", default="1 mm"),
            Input("edge_nm", "Chamfer or radius of the edge", "length", default="0.5 mm", hint="leg of a 45° chamfer"),
            Input("edge_shape", "Edge is", "choice", choices=("chamfer", "round"), default="chamfer"),
        ),
        work=_seat,
        formula="seats if the chamfer's leg, or the edge's radius, is at least the corner's radius",
        source="geometry",
    ),
)
