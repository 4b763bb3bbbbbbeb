"""Handbook calculations on setting out and checking: indicators, position, sine bars, bolt circles.

They are shown with the measuring ones: server/trade/handbook/measuring.py takes them up in its CALCULATIONS.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, cast

from server.trade.angles import dms, sine_angle_deg, sine_angle_error_deg, sine_stack_nm
from server.trade.bolt_circle import bolt_circle, diameter_from_spacing_nm, hole_spacing_nm
from server.trade.errors import Unreadable
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.indicator import (
    eccentricity_from_readings,
    eccentricity_from_run_out_nm,
    lever_factor,
    lever_movement_nm,
    plunger_movement_nm,
)
from server.trade.position import (
    AtMaximumMaterial,
    Feature,
    fastener_tolerance,
    position_against,
    virtual_condition_nm,
)


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _lever(inputs: Mapping[str, Any]) -> Sequence[Output]:
    contact, ratio = inputs["contact_deg"], inputs["length_ratio"]
    return (
        _length("True movement", lever_movement_nm(inputs["reading_nm"], contact, ratio)),
        Output("Factor", lever_factor(contact, ratio), decimals=4),
    )


def _plunger(inputs: Mapping[str, Any]) -> Sequence[Output]:
    true_nm = plunger_movement_nm(inputs["reading_nm"], inputs["tilt_deg"])
    return (_length("True movement", true_nm), _length("Reads too much by", inputs["reading_nm"] - true_nm))


def _run_out(inputs: Mapping[str, Any]) -> Sequence[Output]:
    return (_length("Eccentricity", eccentricity_from_run_out_nm(inputs["total_reading_nm"]), "also the throw"),)


def _centring(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = eccentricity_from_readings(inputs["readings_nm"])
    return (
        _length("Eccentricity", found.offset_nm),
        Output("High side", found.high_deg, unit="°", decimals=0, note="from the first reading on"),
        _length("Total reading", found.run_out_nm),
        _length("Left after centring", found.left_over_nm, "out of round, and noise"),
    )


def _position(inputs: Mapping[str, Any]) -> Sequence[Output]:
    at = None
    if inputs["feature"] != "neither":
        for name in ("low_nm", "high_nm", "actual_nm"):
            if inputs[name] is None:
                raise Unreadable(name, "", "the bonus needs it", "a length; or choose neither for no bonus")
        feature = cast(Feature, inputs["feature"])
        at = AtMaximumMaterial(feature, inputs["low_nm"], inputs["high_nm"], inputs["actual_nm"])
    found = position_against(inputs["x_deviation_nm"], inputs["y_deviation_nm"], inputs["tolerance_nm"], at)
    note = "" if found.in_size else "the feature is out of its limits of size"
    return (
        _length("Position", found.position_nm, "as a diameter"),
        _length("Allowed", found.allowed_nm),
        _length("Bonus", found.bonus_nm),
        Output("Holds", "yes" if found.holds else "no", "text", note=note),
    )


def _virtual(inputs: Mapping[str, Any]) -> Sequence[Output]:
    size_nm = virtual_condition_nm(inputs["feature"], inputs["maximum_material_nm"], inputs["tolerance_nm"])
    return (_length("Virtual condition", size_nm),)


def _fastener(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = fastener_tolerance(inputs["hole_smallest_nm"], inputs["fastener_largest_nm"])
    return (
        _length("Floating, each part", found.floating_nm, "clearance holes in all parts"),
        _length("Fixed, each part", found.fixed_each_nm, "tapped or dowelled into one"),
    )


def _sine_stack(inputs: Mapping[str, Any]) -> Sequence[Output]:
    bar_nm, angle = inputs["bar_nm"], inputs["angle_deg"]
    return (
        _length("Stack", sine_stack_nm(bar_nm, angle)),
        _sensitivity(bar_nm, angle),
    )


def _sine_angle(inputs: Mapping[str, Any]) -> Sequence[Output]:
    bar_nm = inputs["bar_nm"]
    angle = sine_angle_deg(bar_nm, inputs["stack_nm"])
    found = [Output("Angle", angle, unit="°", decimals=4), Output("Angle", dms(angle), "text")]
    return (*found, _sensitivity(bar_nm, angle)) if angle <= 60 else tuple(found)


def _sensitivity(bar_nm: int, angle_deg: float) -> Output:
    seconds = sine_angle_error_deg(bar_nm, angle_deg, 1_000) * 3600
    return Output("Error from 1 µm of stack", seconds, unit="″", decimals=1)


def _bolt_circle(inputs: Mapping[str, Any]) -> Sequence[Output]:
    holes = bolt_circle(
        inputs["holes"],
        inputs["diameter_nm"],
        first_deg=inputs["first_deg"],
        centre_nm=(inputs["centre_x_nm"], inputs["centre_y_nm"]),
        direction=inputs["direction"],
        step_deg=inputs["step_deg"],
    )
    return tuple(
        output
        for hole in holes
        for output in (
            _length(f"Hole {hole.number} X", hole.x_nm, f"{hole.angle_deg:.4g}°"),
            _length(f"Hole {hole.number} Y", hole.y_nm),
        )
    )


def _spacing(inputs: Mapping[str, Any]) -> Sequence[Output]:
    spacing_nm = hole_spacing_nm(inputs["diameter_nm"], inputs["holes"], inputs["apart"])
    outputs = [_length("Centre to centre", spacing_nm)]
    if inputs["pin_nm"] is not None:
        outputs.append(_length("Over two pins", spacing_nm + inputs["pin_nm"]))
        outputs.append(_length("Between two pins", spacing_nm - inputs["pin_nm"]))
    return tuple(outputs)


def _pitch_circle(inputs: Mapping[str, Any]) -> Sequence[Output]:
    diameter_nm = diameter_from_spacing_nm(inputs["spacing_nm"], inputs["holes"], inputs["apart"])
    return (_length("Pitch circle diameter", diameter_nm),)


_BAR: Final = Input("bar_nm", "Roller centres", "length", default="5 in", hint="the distance as measured")
_HOLES: Final = Input("holes", "Holes", "whole", default="6", least=2, greatest=60)
_APART: Final = Input("apart", "Places apart", "whole", default="1", least=1, greatest=59)
_TOLERANCE: Final = Input("tolerance_nm", "Position tolerance", "length", hint="the diameter on the drawing")
_SCREWS: Final = (
    "Says whether the screw goes in, not what it holds: for that follow its maker and the rules that apply."
)

SETTING_OUT: Final[tuple[Calculation, ...]] = (
    Calculation(
        "lever-indicator",
        "Measuring",
        "Lever indicator, cosine and length error",
        "How far did it really move?",
        (
            Input("reading_nm", "Reading", "length", default="0.2 mm"),
            Input("contact_deg", "Lever to surface", "number", "°", default="20", least=0, greatest=60),
            Input("length_ratio", "Stylus fitted / stylus meant", "number", default="1", least=0.2, greatest=5),
        ),
        _lever,
        "true = reading × cos A × (length fitted / length meant)",
        "indicator maker's catalogue, table of factors: 10° 0.98, 20° 0.94 (found); length by proportion",
    ),
    Calculation(
        "plunger-tilt",
        "Measuring",
        "Plunger indicator leaning",
        "How much does a leaning indicator read too much?",
        (
            Input("reading_nm", "Reading", "length", default="1 mm"),
            Input("tilt_deg", "Leans from square by", "number", "°", default="5", least=0, greatest=60),
        ),
        _plunger,
        "true = reading × cos A",
        "geometry",
    ),
    Calculation(
        "run-out",
        "Measuring",
        "Eccentricity from run-out",
        "How far off centre is it, or what is the throw?",
        (Input("total_reading_nm", "Total indicator reading", "length", default="0.25 in"),),
        _run_out,
        "e = TIR / 2",
        "common practice, no source; for a surface that is round itself",
    ),
    Calculation(
        "centring",
        "Measuring",
        "Centring from readings round a turn",
        "Which way, and how far, is the work off centre?",
        (
            Input(
                "readings_nm",
                "Readings, equal steps of a turn",
                "lengths",
                default="0.02 0 -0.02 0",
                hint="3 or more",
            ),
        ),
        _centring,
        "ex = 2/n Σ r cos θ,  ey = 2/n Σ r sin θ",
        "least squares circle, ISO 12181-2 (from memory)",
    ),
    Calculation(
        "position",
        "Measuring",
        "Position from X and Y",
        "Is the hole where it may be?",
        (
            Input("x_deviation_nm", "Off in X", "length", default="0.05 mm"),
            Input("y_deviation_nm", "Off in Y", "length", default="0.05 mm"),
            Input("tolerance_nm", "Position tolerance", "length", default="0.2 mm"),
            Input(
                "feature",
                "Bonus at maximum material for",
                "choice",
                choices=("neither", "hole", "pin"),
                default="neither",
            ),
            Input("low_nm", "Least size", "length", optional=True),
            Input("high_nm", "Greatest size", "length", optional=True),
            Input("actual_nm", "Size measured", "length", optional=True),
        ),
        _position,
        "position = 2 √(dx² + dy²);  bonus: hole size − least, pin greatest − size",
        "ASME Y14.5 and ISO 2692, maximum material requirement (from memory)",
    ),
    Calculation(
        "virtual-condition",
        "Measuring",
        "Virtual condition",
        "What size of pin always goes in, whatever the position?",
        (
            Input("feature", "Feature", "choice", choices=("hole", "pin"), default="hole"),
            Input("maximum_material_nm", "Maximum material size", "length", hint="smallest hole, largest pin"),
            _TOLERANCE,
        ),
        _virtual,
        "hole: MMC − T;  pin: MMC + T",
        "ASME Y14.5, ISO 2692 (from memory)",
    ),
    Calculation(
        "fastener-position",
        "Measuring",
        "Position tolerance for screws",
        "How far off may the holes be for the screw still to go in?",
        (
            Input("hole_smallest_nm", "Smallest hole", "length", default="6.6 mm"),
            Input("fastener_largest_nm", "Largest screw", "length", default="6 mm"),
        ),
        _fastener,
        "floating T = H − F;  fixed T = (H − F) / 2",
        "ASME Y14.5 appendix B (from memory)",
        _SCREWS,
    ),
    Calculation(
        "sine-bar-stack",
        "Setting out",
        "Sine bar, stack for an angle",
        "What do I put under the roller?",
        (_BAR, Input("angle_deg", "Angle", "number", "°", default="30", least=0, greatest=60)),
        _sine_stack,
        "stack = L sin A",
        "Handbook of Machining and Metalworking Calculations ch. 4 (found); past 45° set the complement",
    ),
    Calculation(
        "sine-bar-angle",
        "Setting out",
        "Sine bar, angle of a stack",
        "What angle does this stack make?",
        (_BAR, Input("stack_nm", "Stack", "length", default="2.5 in")),
        _sine_angle,
        "A = asin(stack / L);  dA = dS / (L cos A)",
        "plane trigonometry",
    ),
    Calculation(
        "bolt-circle",
        "Setting out",
        "Bolt circle",
        "Where are the holes?",
        (
            Input("holes", "Holes", "whole", default="6", least=1, greatest=60),
            Input("diameter_nm", "Pitch circle diameter", "length", default="100 mm"),
            Input("first_deg", "First hole from +X", "number", "°", default="0", least=-360, greatest=360),
            Input("centre_x_nm", "Centre X", "length", default="0"),
            Input("centre_y_nm", "Centre Y", "length", default="0"),
            Input(
                "direction",
                "Direction",
                "choice",
                choices=("counter-clockwise", "clockwise"),
                default="counter-clockwise",
            ),
            Input("step_deg", "Step, if not the whole circle", "number", "°", optional=True, least=0, greatest=360),
        ),
        _bolt_circle,
        "x = cx + R cos A,  y = cy + R sin A",
        "plane trigonometry; angles as the axes of ISO 841. Handbooks that start at twelve o'clock start at 90° here",
    ),
    Calculation(
        "hole-spacing",
        "Setting out",
        "Distance between holes on a circle",
        "What should it measure from hole to hole?",
        (
            Input("diameter_nm", "Pitch circle diameter", "length", default="100 mm"),
            _HOLES,
            _APART,
            Input("pin_nm", "Pin diameter", "length", optional=True),
        ),
        _spacing,
        "c = D sin(180° k / n)",
        "plane trigonometry",
    ),
    Calculation(
        "pitch-circle",
        "Setting out",
        "Pitch circle from the distance between holes",
        "What circle are these holes on?",
        (Input("spacing_nm", "Centre to centre", "length", default="50 mm"), _HOLES, _APART),
        _pitch_circle,
        "D = c / sin(180° k / n)",
        "plane trigonometry",
    ),
)
