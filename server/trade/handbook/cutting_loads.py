"""Handbook calculations on metal removed, power, bending and time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.cutter_bending import FLUTED_SHARE, MODULUS_GPA, STEEL_BAR_OVERHANG, Overhang, deflection_nm
from server.trade.cutter_shape import drill_point_length_nm
from server.trade.cutting import chip_thickness_nm, cutting_speed_m_per_min, feed_per_tooth_nm, spindle_speed_rpm
from server.trade.errors import Impossible
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.metal_removal import (
    CUBIC_CM_PER_CUBIC_INCH,
    KILOWATTS_PER_HORSEPOWER,
    SPECIFIC_FORCES,
    cutting_power_kw,
    drilling_rate_cm3_per_min,
    milling_rate_cm3_per_min,
    specific_force_n_per_mm2,
    spindle_torque_newton_m,
    tangential_force_n,
    turning_rate_cm3_per_min,
)
from server.trade.pass_time import drilling_minutes, milling_minutes, passes, side_approach_nm, turning_minutes

_POWER: Final = "Power and force"
_TIME: Final = "Time of a pass"
_FORCES: Final = tuple(SPECIFIC_FORCES)

_LOAD_CAUTION: Final = (
    "An estimate: sharp edge, rake near 0°. A blunt edge takes half as much again, and forces peak above their mean. "
    "The machine's and the cutter's makers set the limits; hold the work for more than this."
)
_SOURCE: Final = (
    "Kienzle's kc = kc1.1 h^−mc; constants from memory, the steels and iron checked against a maker's table"
)

_RPM: Final = Input("rpm", "Spindle speed", "number", "rev/min", default="2000", least=0.01, greatest=1_000_000)
_MATERIAL: Final = Input("material", "Material cut", "choice", choices=_FORCES, default=_FORCES[0])
_EFFICIENCY: Final = Input("efficiency", "Drive's efficiency", "number", default="0.8", least=0.01, greatest=1)
_CUTTER: Final = Input("diameter_nm", "Cutter's diameter", "length", default="10 mm")
_DEPTH: Final = Input("depth_nm", "Depth of cut", "length", default="2 mm")
_FEED: Final = Input("feed_nm_per_min", "Table feed, a minute", "length", default="300 mm")
_PER_REV: Final = Input("feed_per_rev_nm", "Feed a revolution", "length", default="0.1 mm")


def _minutes(label: str, minutes: float, note: str = "") -> Output:
    if minutes < 1:
        return Output(label, minutes * 60, unit="s", decimals=1, note=note)
    return Output(label, minutes, unit="min", decimals=2, note=note)


def _load(inputs: Mapping[str, Any], rate: float, chip_nm: float, speed_m_per_min: float) -> Sequence[Output]:
    force = SPECIFIC_FORCES[inputs["material"]]
    specific = specific_force_n_per_mm2(force.kc11_n_per_mm2, force.mc, chip_nm)
    thin = "thinner than the trials behind the figures: more force than shown" if chip_nm < 50_000 else ""
    at_cutter = cutting_power_kw(rate, specific)
    at_motor = cutting_power_kw(rate, specific, inputs["efficiency"])
    return (
        Output("Metal removed", rate, unit="cm³/min", decimals=2),
        Output("Metal removed", rate / CUBIC_CM_PER_CUBIC_INCH, unit="in³/min", decimals=3),
        Output("Chip thickness", round(chip_nm), "length", note=thin),
        Output("Specific cutting force", specific, unit="N/mm²", decimals=0, note=force.standing),
        Output("Power at the cutter", at_cutter, unit="kW", decimals=3),
        Output("Power of the motor", at_motor, unit="kW", decimals=3),
        Output("Power of the motor", at_motor / KILOWATTS_PER_HORSEPOWER, unit="hp", decimals=2),
        Output("Torque at the spindle", spindle_torque_newton_m(at_cutter, inputs["rpm"]), unit="N·m", decimals=2),
        Output("Mean cutting force", tangential_force_n(at_cutter, speed_m_per_min), unit="N", decimals=0),
    )


def _milling(inputs: Mapping[str, Any]) -> Sequence[Output]:
    width_nm, diameter_nm, feed = inputs["width_nm"], inputs["diameter_nm"], inputs["feed_nm_per_min"]
    per_tooth_nm = feed_per_tooth_nm(inputs["rpm"], inputs["flutes"], feed)
    chip_nm = chip_thickness_nm(per_tooth_nm, width_nm, diameter_nm, "mean")
    rate = milling_rate_cm3_per_min(inputs["depth_nm"], width_nm, feed)
    return _load(inputs, rate, chip_nm, cutting_speed_m_per_min(inputs["rpm"], diameter_nm))


def _turning(inputs: Mapping[str, Any]) -> Sequence[Output]:
    speed = cutting_speed_m_per_min(inputs["rpm"], inputs["diameter_nm"])
    rate = turning_rate_cm3_per_min(speed, inputs["depth_nm"], inputs["feed_per_rev_nm"])
    return _load(inputs, rate, inputs["feed_per_rev_nm"], speed)


def _drilling(inputs: Mapping[str, Any]) -> Sequence[Output]:
    per_rev_nm, diameter_nm, rpm = inputs["feed_per_rev_nm"], inputs["diameter_nm"], inputs["rpm"]
    chip_nm = per_rev_nm / 2 * math.sin(math.radians(inputs["point_deg"] / 2))
    rate = drilling_rate_cm3_per_min(diameter_nm, per_rev_nm, rpm)
    # The last answer, the force along the speed, is spread over both lips and says little about a drill.
    return _load(inputs, rate, chip_nm, cutting_speed_m_per_min(rpm, diameter_nm))[:-1]


def _bending(inputs: Mapping[str, Any]) -> Sequence[Output]:
    shank_nm, shank_length_nm = inputs["shank_diameter_nm"], inputs["shank_length_nm"]
    if (shank_nm is None) != (shank_length_nm is None):
        missing = "shank_diameter_nm" if shank_nm is None else "shank_length_nm"
        raise Impossible(missing, "", "a shank has a diameter and a length", "both, or neither")
    overhang = Overhang(
        inputs["flute_diameter_nm"],
        inputs["flute_length_nm"],
        shank_nm or 0,
        shank_length_nm or 0,
        inputs["fluted_share"],
    )
    pushed_nm = deflection_nm(overhang, inputs["force_n"], MODULUS_GPA[inputs["made_of"]])
    note = f"plain steel bars are usually trusted to {STEEL_BAR_OVERHANG:g}"
    return (
        Output("Pushed aside at the end", pushed_nm, "length"),
        Output("Overhang / diameter", overhang.ratio, decimals=1, note=note),
    )


def _milling_time(inputs: Mapping[str, Any]) -> Sequence[Output]:
    approach_nm = side_approach_nm(inputs["width_nm"], inputs["diameter_nm"])
    one = milling_minutes(inputs["length_nm"], inputs["feed_nm_per_min"], approach_nm, inputs["overrun_nm"])
    return Output("Approach", approach_nm, "length"), _minutes("One pass", one)


def _turning_time(inputs: Mapping[str, Any]) -> Sequence[Output]:
    one = turning_minutes(inputs["length_nm"], inputs["feed_per_rev_nm"], inputs["rpm"])
    count = passes(inputs["total_nm"], inputs["depth_nm"])
    return _minutes("One pass", one), Output("Passes", count), _minutes("All passes", count * one, "cutting only")


def _drilling_time(inputs: Mapping[str, Any]) -> Sequence[Output]:
    point_nm = drill_point_length_nm(inputs["diameter_nm"], inputs["point_deg"])
    rpm = spindle_speed_rpm(inputs["speed_m_per_min"], inputs["diameter_nm"])
    minutes = drilling_minutes(inputs["depth_nm"], inputs["feed_per_rev_nm"], rpm, point_nm, inputs["approach_nm"])
    return Output("Point", point_nm, "length"), _minutes("One hole", minutes, "without pecking")


_POINT: Final = Input("point_deg", "Point angle", "number", "°", default="118", least=1, greatest=179)
_DRILL: Final = Input("diameter_nm", "Drill's diameter", "length", default="10 mm")
_SPEED: Final = Input("speed_m_per_min", "Cutting speed", "number", "m/min", default="25", least=0.01, greatest=10_000)

CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="milling-power",
        group=_POWER,
        title="Metal removed and power in milling",
        asks="How much metal does this cut take off, and has the machine the power for it?",
        inputs=(
            _CUTTER,
            Input("flutes", "Flutes", "whole", default="4", least=1, greatest=100),
            _RPM,
            _FEED,
            _DEPTH,
            Input("width_nm", "Width of cut", "length", default="4 mm"),
            _MATERIAL,
            _EFFICIENCY,
        ),
        work=_milling,
        formula="Q = ap ae vf; P = Q kc / (60 000 η), kc at the mean chip over the arc; M = P / (2 π n); F = P / vc",
        source=_SOURCE,
        caution=_LOAD_CAUTION,
    ),
    Calculation(
        id="turning-power",
        group=_POWER,
        title="Metal removed and power in turning",
        asks="How much metal does this cut take off on the lathe, and with what power?",
        inputs=(
            Input("diameter_nm", "Diameter turned", "length", default="40 mm"),
            _RPM,
            _PER_REV,
            _DEPTH,
            _MATERIAL,
            _EFFICIENCY,
        ),
        work=_turning,
        formula="Q = vc ap f; P = Q kc / (60 000 η), kc at h = f (edge square to the feed)",
        source=_SOURCE,
        caution=_LOAD_CAUTION,
    ),
    Calculation(
        id="drilling-power",
        group=_POWER,
        title="Metal removed and torque in drilling",
        asks="What torque and power does this drill take?",
        inputs=(_DRILL, _POINT, _RPM, _PER_REV, _MATERIAL, _EFFICIENCY),
        work=_drilling,
        formula="Q = π/4 D² f n; P = Q kc / (60 000 η), kc at h = f/2 sin(A/2); M = P / (2 π n)",
        source=_SOURCE,
        caution=_LOAD_CAUTION + " Clamp the work: a drill breaking through snatches.",
    ),
    Calculation(
        id="cutter-bending",
        group=_POWER,
        title="Bending of a slender cutter or bar",
        asks="How far does the cut push this cutter aside?",
        inputs=(
            Input("force_n", "Force across the end", "number", "N", default="100", least=0.001),
            Input("flute_diameter_nm", "Cutter's diameter", "length", default="6 mm"),
            Input("flute_length_nm", "Fluted length out of the holder", "length", default="20 mm"),
            Input("shank_diameter_nm", "Shank's diameter", "length", optional=True),
            Input("shank_length_nm", "Plain shank out of the holder", "length", optional=True),
            Input("made_of", "Made of", "choice", choices=tuple(MODULUS_GPA), default="carbide"),
            Input(
                "fluted_share",
                "Diameter that counts in the flutes",
                "number",
                default=f"{FLUTED_SHARE:g}",
                least=0.3,
                greatest=1,
                hint="share of the diameter; 1 for a plain bar",
            ),
        ),
        work=_bending,
        formula="F / 3E × (L1³/I1 + ((L1+L2)³ − L1³)/I2), I = π d⁴/64, d = 0.8 D in the flutes unless told",
        source="beam theory; 0.8 D is a common assumption, no source; moduli from memory",
        caution="Holder, collet and spindle give too, so expect more. A long cutter can break before it bends so far.",
    ),
    Calculation(
        id="milling-time",
        group=_TIME,
        title="Time of a milling pass",
        asks="How long does one milling pass take, with the approach?",
        inputs=(
            Input("length_nm", "Length of work", "length", default="100 mm"),
            _FEED,
            _CUTTER,
            Input("width_nm", "Width of cut", "length", default="4 mm"),
            Input("overrun_nm", "Overrun past the end", "length", default="2 mm"),
        ),
        work=_milling_time,
        formula="t = (L + approach + overrun) / vf; approach = √(ae (D − ae)), D/2 from half the diameter up",
        source="geometry",
    ),
    Calculation(
        id="turning-time",
        group=_TIME,
        title="Time to turn or face",
        asks="How long does it take to turn this much off?",
        inputs=(
            Input("length_nm", "Length of cut", "length", default="150 mm", hint="facing: the radius"),
            _PER_REV,
            Input("rpm", "Spindle speed", "number", "rev/min", default="500", least=0.01, greatest=1_000_000),
            Input("total_nm", "To take off, on the side", "length", default="3 mm"),
            Input("depth_nm", "Depth of one pass", "length", default="1 mm"),
        ),
        work=_turning_time,
        formula="t = L / (f n) for each pass",
        source="geometry",
    ),
    Calculation(
        id="drilling-time",
        group=_TIME,
        title="Time to drill a hole",
        asks="How long does one hole take?",
        inputs=(
            _DRILL,
            _POINT,
            Input("depth_nm", "Depth at full diameter", "length", default="20 mm"),
            _PER_REV,
            _SPEED,
            Input("approach_nm", "Approach", "length", default="2 mm"),
        ),
        work=_drilling_time,
        formula="t = (depth + point + approach) / (f n)",
        source="geometry",
    ),
)
