"""Handbook calculations on speeds, feeds, chips and the shape of cutters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.cutter_shape import (
    ball_effective_diameter_nm,
    cone_depth_nm,
    cusp_height_nm,
    drill_point_length_nm,
    step_over_for_cusp_nm,
)
from server.trade.cutting import (
    CHIP_METHODS,
    METRES_PER_FOOT,
    chip_factor,
    cutting_speed_m_per_min,
    feed_for_chip_nm,
    feed_per_tooth_nm,
    spindle_setting,
    spindle_speed_rpm,
    table_feed_nm_per_min,
)
from server.trade.errors import Impossible
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.starting_speeds import CAUTION, CUTTER_MATERIALS, MATERIALS, starting_speed

_GROUP: Final = "Speeds and feeds"
_SHAPE: Final = "Cutters and cusps"

_SPEED: Final = Input("speed", "Cutting speed", "number", default="25", least=0.01, greatest=10_000)
_SPEED_UNIT: Final = Input("speed_unit", "Speed in", "choice", choices=("m/min", "ft/min"), default="m/min")
_DIAMETER: Final = Input(
    "diameter_nm", "Diameter", "length", default="10 mm", hint="of the cutter, or of the work turned"
)
_CUTTER: Final = Input("diameter_nm", "Cutter's diameter", "length", default="10 mm")
_BALL: Final = Input("diameter_nm", "Ball-nose cutter's diameter", "length", default="6 mm")
_RPM: Final = Input("rpm", "Spindle speed", "number", unit="rev/min", default="3200", least=0.01, greatest=1_000_000)
_FLUTES: Final = Input("flutes", "Flutes", "whole", default="5", least=1, greatest=100)
_PER_TOOTH: Final = Input("feed_per_tooth_nm", "Feed a tooth", "length", default="0.02 mm")


def _length(label: str, value_nm: float, note: str = "") -> Output:
    return Output(label, round(value_nm), "length", note=note)


def _rpm(label: str, rpm: float, note: str = "") -> Output:
    return Output(label, rpm, unit="rev/min", decimals=0 if rpm >= 100 else 1, note=note)


def _speeds(speed_m_per_min: float, label: str = "Cutting speed") -> tuple[Output, Output]:
    feet = speed_m_per_min / METRES_PER_FOOT
    return Output(label, speed_m_per_min, unit="m/min", decimals=1), Output(label, feet, unit="ft/min", decimals=0)


def _speed(inputs: Mapping[str, Any]) -> float:
    typed: float = inputs["speed"]
    return typed * METRES_PER_FOOT if inputs["speed_unit"] == "ft/min" else typed


def _spindle_speed(inputs: Mapping[str, Any]) -> Sequence[Output]:
    diameter_nm, highest, lowest = inputs["diameter_nm"], inputs["highest_rpm"], inputs["lowest_rpm"]
    flutes, per_tooth_nm = inputs["flutes"], inputs["feed_per_tooth_nm"]
    if (flutes is None) != (per_tooth_nm is None):
        missing = "flutes" if flutes is None else "feed_per_tooth_nm"
        raise Impossible(missing, "", "a table feed needs the flutes and the feed a tooth", "both, or neither")
    wanted = spindle_speed_rpm(_speed(inputs), diameter_nm)
    setting = spindle_setting(_speed(inputs), diameter_nm, highest or max(wanted, lowest or 0), lowest or 0)
    answers = [_rpm("Spindle speed", setting.rpm)]
    if setting.limited:
        answers = [_rpm("Spindle speed", setting.rpm, "as far as the spindle goes"), _rpm("Wanted", wanted)]
        answers += _speeds(setting.speed_m_per_min, "Speed then reached")
    if flutes is not None:
        feed = table_feed_nm_per_min(setting.rpm, flutes, per_tooth_nm)
        answers.append(_length("Table feed, a minute", feed, "at the spindle speed above"))
    return answers


def _starting_speed(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = starting_speed(inputs["material"], inputs["cutter"])
    slow, fast = found.slow_m_per_min, found.fast_m_per_min
    return (
        *_speeds(slow, "From"),
        *_speeds(fast, "To"),
        _rpm("Spindle speed, from", spindle_speed_rpm(slow, inputs["diameter_nm"])),
        _rpm("Spindle speed, to", spindle_speed_rpm(fast, inputs["diameter_nm"])),
        Output("Standing", found.standing, "text"),
    )


def _chip(inputs: Mapping[str, Any]) -> Sequence[Output]:
    width_nm, diameter_nm = inputs["width_nm"], inputs["diameter_nm"]
    small = 2 * width_nm <= diameter_nm
    methods = [method for method in CHIP_METHODS if small or method != "mean, small widths"]
    factors = [Output(f"Chip / feed, {each}", chip_factor(width_nm, diameter_nm, each), decimals=4) for each in methods]
    feeds = [
        _length(f"Feed a tooth, {each}", feed_for_chip_nm(inputs["chip_nm"], width_nm, diameter_nm, each))
        for each in methods
    ]
    return (*factors, *feeds)


def _ball(inputs: Mapping[str, Any]) -> Sequence[Output]:
    effective_nm = ball_effective_diameter_nm(inputs["diameter_nm"], inputs["depth_nm"])
    rpm = spindle_speed_rpm(_speed(inputs), effective_nm)
    return _length("Effective diameter", effective_nm), _rpm("Spindle speed", rpm, "for the speed at that diameter")


CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="spindle-speed",
        group=_GROUP,
        title="Spindle speed, and the feed that goes with it",
        asks="How fast must the spindle turn, and what if it cannot?",
        inputs=(
            _SPEED,
            _SPEED_UNIT,
            _DIAMETER,
            Input("highest_rpm", "Spindle's highest speed", "number", "rev/min", optional=True, least=0.01),
            Input("lowest_rpm", "Spindle's lowest speed", "number", "rev/min", optional=True, least=0),
            Input("flutes", "Flutes", "whole", optional=True, least=1, greatest=100),
            Input("feed_per_tooth_nm", "Feed a tooth", "length", optional=True),
        ),
        work=_spindle_speed,
        formula="n = vc / (π D); vf = n z fz, with the n that is reached",
        source="geometry; the shop rules 4 V/D (US Army OD1645) and 3.82 V/D (ft/min, in) are roundings of it",
        caution=CAUTION,
    ),
    Calculation(
        id="cutting-speed",
        group=_GROUP,
        title="Cutting speed",
        asks="What cutting speed does this spindle speed make?",
        inputs=(_RPM, _DIAMETER),
        work=lambda inputs: _speeds(cutting_speed_m_per_min(inputs["rpm"], inputs["diameter_nm"])),
        formula="vc = π D n",
        source="geometry",
        caution="A large cutter, wheel or chuck has a highest speed of its own; it is the maker's, and is not passed.",
    ),
    Calculation(
        id="starting-speed",
        group=_GROUP,
        title="Cutting speed to start from",
        asks="How fast is this material usually cut?",
        inputs=(
            Input("material", "Material cut", "choice", choices=MATERIALS, default=MATERIALS[0]),
            Input("cutter", "Cutter of", "choice", choices=CUTTER_MATERIALS, default=CUTTER_MATERIALS[0]),
            _DIAMETER,
        ),
        work=_starting_speed,
        formula="a table of ranges; n = vc / (π D)",
        source="each range says its own standing",
        caution=CAUTION,
    ),
    Calculation(
        id="table-feed",
        group=_GROUP,
        title="Table feed from feed a tooth",
        asks="How fast must the table go for this feed a tooth? (A drill or tap: 1 flute, feed or pitch a turn.)",
        inputs=(_RPM, _FLUTES, _PER_TOOTH),
        work=lambda inputs: (
            _length(
                "Table feed, a minute",
                table_feed_nm_per_min(inputs["rpm"], inputs["flutes"], inputs["feed_per_tooth_nm"]),
            ),
        ),
        formula="vf = n z fz",
        source="worked example of a cutting-tool catalogue: 4584 rev/min, 4 flutes, 0.004 in make 73.3 in/min",
    ),
    Calculation(
        id="feed-per-tooth",
        group=_GROUP,
        title="Feed a tooth from table feed",
        asks="How much does each tooth take at this table feed?",
        inputs=(_RPM, _FLUTES, Input("feed_nm_per_min", "Table feed, a minute", "length", default="10 in")),
        work=lambda inputs: (
            _length("Feed a tooth", feed_per_tooth_nm(inputs["rpm"], inputs["flutes"], inputs["feed_nm_per_min"])),
        ),
        formula="fz = vf / (n z)",
        source="common practice, no source: five flutes at 3200 rev/min and 10 in/min take 0.000625 in a tooth",
        caution="Too small a feed rubs instead of cutting, too large a one breaks the cutter: see its maker's range.",
    ),
    Calculation(
        id="chip-thinning",
        group=_GROUP,
        title="Chip thinning of a light side cut",
        asks="What feed a tooth makes the chip wanted, when the cut is narrower than half the cutter?",
        inputs=(
            Input("chip_nm", "Chip wanted", "length", default="0.05 mm"),
            Input("width_nm", "Width of cut", "length", default="1 mm"),
            _CUTTER,
        ),
        work=_chip,
        formula="greatest: h/fz = 2 √(x(1−x)); mean: h/fz = 2x / arccos(1−2x); mean, small widths: √x; x = width / D",
        source="geometry; √x as printed for hm in cutting-tool catalogues. The sources mean different chips: the feeds "
        "they suggest differ by up to 2",
        caution="Take the smaller feed first. The faster feed holds on straight cuts only: corners widen the cut.",
    ),
    Calculation(
        id="ball-nose-speed",
        group=_SHAPE,
        title="Effective diameter of a ball-nose cutter",
        asks="Where does a ball-nose cutter really cut, and how fast must it turn?",
        inputs=(_BALL, Input("depth_nm", "Depth of cut", "length", default="0.5 mm"), _SPEED, _SPEED_UNIT),
        work=_ball,
        formula="D_eff = 2 √(ap (D − ap)), D from ap = D/2 up",
        source="geometry",
        caution=CAUTION,
    ),
    Calculation(
        id="cusp-height",
        group=_SHAPE,
        title="Cusp height of a ball-nose cutter",
        asks="How high are the ridges this step-over leaves?",
        inputs=(_BALL, Input("step_over_nm", "Step-over", "length", default="0.5 mm")),
        work=lambda inputs: (
            _length("Cusp height", cusp_height_nm(inputs["diameter_nm"], inputs["step_over_nm"]), "on a flat surface"),
        ),
        formula="h = R − √(R² − (s/2)²)",
        source="geometry",
    ),
    Calculation(
        id="step-over",
        group=_SHAPE,
        title="Step-over for a cusp height",
        asks="What step-over keeps the ridges below this height?",
        inputs=(_BALL, Input("cusp_nm", "Cusp height", "length", default="0.01 mm")),
        work=lambda inputs: (
            _length("Step-over", step_over_for_cusp_nm(inputs["diameter_nm"], inputs["cusp_nm"]), "on a flat surface"),
        ),
        formula="s = 2 √(h (2R − h))",
        source="geometry",
    ),
    Calculation(
        id="drill-point",
        group=_SHAPE,
        title="Length of a drill's point",
        asks="How much deeper must a drill go for the full diameter to reach its depth?",
        inputs=(
            Input("diameter_nm", "Drill's diameter", "length", default="10 mm"),
            Input("point_deg", "Point angle", "number", "°", default="118", least=1, greatest=179),
        ),
        work=lambda inputs: (
            _length("Point", drill_point_length_nm(inputs["diameter_nm"], inputs["point_deg"]), "sharp point assumed"),
        ),
        formula="(D/2) / tan(A/2): 0.3004 D for 118°, 0.2071 D for 135°",
        source="geometry",
    ),
    Calculation(
        id="countersink-depth",
        group=_SHAPE,
        title="Depth of a spot or countersink",
        asks="How deep must a cone go to make this diameter?",
        inputs=(
            Input("large_nm", "Diameter wanted", "length", default="8 mm"),
            Input("angle_deg", "Included angle", "number", "°", default="90", least=1, greatest=179),
            Input("small_nm", "Hole already there", "length", default="0 mm", hint="0: none, a sharp point"),
        ),
        work=lambda inputs: (
            _length("Depth", cone_depth_nm(inputs["large_nm"], inputs["angle_deg"], inputs["small_nm"])),
        ),
        formula="(D − d)/2 / tan(A/2), from where the cone first touches",
        source="geometry",
    ),
)
