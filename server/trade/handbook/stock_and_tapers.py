"""Handbook calculations on tapers and wedges, weight of stock, blanks and sheet gauges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.bounds import length_not_negative
from server.trade.errors import OutOfRange
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.sheet_gauges import SHEET_GAUGES, nearest_number, thickness_nm
from server.trade.stock import (
    DENSITIES_G_PER_CM3,
    DENSITY_STANDING,
    KILOGRAMS_PER_POUND,
    SECTIONS,
    bars_for,
    blanks_from_bar,
    mass_kg,
    section_area_mm2,
)
from server.trade.tapers import (
    compound_travel_nm,
    diameter_change_nm,
    half_angle_deg,
    plug_travel_nm,
    self_locking_deg,
    small_diameter_nm,
    tailstock_set_over_nm,
    taper_of_angle,
    taper_of_foot,
    taper_of_ratio,
    taper_of_sizes,
    wedge_rise_nm,
    wedge_slope,
    wedge_travel_nm,
)

_TAPERS: Final = "Tapers and wedges"
_STOCK: Final = "Stock"

_TAKEN_UP, _SLID = "what to take up", "how far it slides"
_KINDS: Final = ("1:n", "in/ft", "included °")
_TAPER: Final = Input("taper", "Taper", "number", default="20", least=0.000001, greatest=100_000)
_TAPER_KIND: Final = Input("taper_kind", "Taper given as", "choice", choices=_KINDS, default="1:n")
_MATERIALS: Final = tuple(DENSITIES_G_PER_CM3)
_GAUGE: Final = Input("gauge", "Gauge", "choice", choices=SHEET_GAUGES, default=SHEET_GAUGES[0])


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _read_taper(inputs: Mapping[str, Any]) -> float:
    typed: float = inputs["taper"]
    if inputs["taper_kind"] == "1:n":
        return taper_of_ratio(typed)
    if inputs["taper_kind"] == "in/ft":
        return taper_of_foot(typed)
    if typed >= 180:
        raise OutOfRange("taper", typed, "no taper has such an included angle", "less than 180 °")
    return taper_of_angle(typed)


def _taper(inputs: Mapping[str, Any]) -> Sequence[Output]:
    taper, large_nm, length_nm = _read_taper(inputs), inputs["large_nm"], inputs["length_nm"]
    answers = [*_angles(taper), _length("Change of diameter", diameter_change_nm(taper, length_nm), "over that length")]
    if large_nm is not None:
        answers.append(_length("Small diameter", small_diameter_nm(large_nm, taper, length_nm)))
    return answers


def _angles(taper: float) -> Sequence[Output]:
    half = half_angle_deg(taper)
    return (
        Output("Taper 1 :", 1 / taper, decimals=4, note="on the diameter"),
        Output("Taper", taper * 12, unit="in/ft", decimals=5),
        Output("Set the slide to", half, unit="°", decimals=4, note="half the included angle"),
        Output("Included angle", 2 * half, unit="°", decimals=4),
    )


def _wedge(inputs: Mapping[str, Any]) -> Sequence[Output]:
    length_not_negative("amount_nm", inputs["amount_nm"])
    typed, by_angle = inputs["wedge"], inputs["wedge_kind"] == "degrees"
    if by_angle and typed >= 90:
        raise OutOfRange("wedge", typed, "no wedge has such an angle", "less than 90 °")
    slope = wedge_slope(typed) if by_angle else taper_of_ratio(typed)
    if inputs["given"] == _SLID:
        return (_length("Takes up", wedge_rise_nm(slope, inputs["amount_nm"])),)
    return (_length("Slide it by", wedge_travel_nm(slope, inputs["amount_nm"])),)


def _weight(inputs: Mapping[str, Any]) -> Sequence[Output]:
    area = section_area_mm2(inputs["section"], inputs["size_nm"], inputs["second_nm"])
    mass = mass_kg(area, inputs["length_nm"], DENSITIES_G_PER_CM3[inputs["material"]])
    return (
        Output("Mass", mass, unit="kg", decimals=3, note=DENSITY_STANDING),
        Output("Mass", mass / KILOGRAMS_PER_POUND, unit="lb", decimals=3),
    )


def _blanks(inputs: Mapping[str, Any]) -> Sequence[Output]:
    lengths = tuple(inputs[name] for name in ("bar_nm", "finished_nm", "saw_cut_nm", "facing_nm", "kept_nm"))
    plan = blanks_from_bar(*lengths)
    answers = [
        Output("Blanks from a bar", plan.count),
        _length("Saw each to", plan.cut_length_nm),
        _length("Left over", plan.drop_nm, "with the end that is kept" if inputs["kept_nm"] else ""),
    ]
    if inputs["count"] is not None:
        need = bars_for(inputs["count"], *lengths)
        answers += [Output("Bars", need.bars), _length("Left of the last bar", need.drops_nm[-1])]
    return answers


CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="taper",
        group=_TAPERS,
        title="Taper and angle",
        asks="What angle is this taper, and how much does the diameter change?",
        inputs=(
            _TAPER,
            _TAPER_KIND,
            Input("length_nm", "Length along the axis", "length", default="40 mm"),
            Input("large_nm", "Large diameter", "length", optional=True),
        ),
        work=_taper,
        formula="C = (D − d)/L = 1/n = (in/ft)/12 = 2 tan(A/2); half angle = arctan(C/2)",
        source="ISO 3040 (from memory); F. D. Jones, Turning and Boring (found)",
    ),
    Calculation(
        id="taper-of-sizes",
        group=_TAPERS,
        title="Taper from two diameters",
        asks="What taper and angle have two diameters and the length between them?",
        inputs=(
            Input("large_nm", "Large diameter", "length", default="20 mm"),
            Input("small_nm", "Small diameter", "length", default="18 mm"),
            Input("length_nm", "Length between them", "length", default="40 mm"),
        ),
        work=lambda inputs: _angles(taper_of_sizes(inputs["large_nm"], inputs["small_nm"], inputs["length_nm"])),
        formula="C = (D − d)/L; half angle = arctan(C/2), not half of arctan(C)",
        source="ISO 3040 (from memory); F. D. Jones, Turning and Boring (found)",
    ),
    Calculation(
        id="tailstock-set-over",
        group=_TAPERS,
        title="Tailstock set-over",
        asks="How far is the tailstock set over for this taper?",
        inputs=(_TAPER, _TAPER_KIND, Input("work_length_nm", "Whole length of the work", "length", default="200 mm")),
        work=lambda inputs: (
            _length("Set over", tailstock_set_over_nm(_read_taper(inputs), inputs["work_length_nm"])),
        ),
        formula="C L / 2, L the whole length between centres",
        source="J. Rose, Modern Machine-Shop Practice (found)",
    ),
    Calculation(
        id="taper-travel",
        group=_TAPERS,
        title="Travel of a taper for a change of size",
        asks="How much deeper does the plug go for this much on the diameter?",
        inputs=(_TAPER, _TAPER_KIND, Input("size_change_nm", "Change of diameter", "length", default="0.05 mm")),
        work=lambda inputs: (_length("Travel", plug_travel_nm(inputs["size_change_nm"], _read_taper(inputs))),),
        formula="ΔD / C",
        source="geometry",
    ),
    Calculation(
        id="wedge",
        group=_TAPERS,
        title="Wedge or gib",
        asks="How much does a wedge take up, or how far must it slide?",
        inputs=(
            Input("wedge", "Slope", "number", default="60", least=0.000001, greatest=100_000),
            Input("wedge_kind", "Slope given as", "choice", choices=("1:n", "degrees"), default="1:n"),
            Input("amount_nm", "Amount", "length", default="0.05 mm"),
            Input("given", "Amount is", "choice", choices=(_TAKEN_UP, _SLID), default=_TAKEN_UP),
        ),
        work=_wedge,
        formula="rise = travel × tan a = travel / n, on one face (a taper of 1:n is on the diameter)",
        source="geometry",
    ),
    Calculation(
        id="wedge-locking",
        group=_TAPERS,
        title="Does a wedge stay put",
        asks="Up to which angle does a wedge hold by friction?",
        inputs=(
            Input("friction", "Friction", "number", default="0.1", least=0.001, greatest=2),
            Input("faces", "Faces that slide", "whole", default="1", least=1, greatest=2),
        ),
        work=lambda inputs: (
            Output("Largest angle", self_locking_deg(inputs["friction"], inputs["faces"]), unit="°", decimals=3),
        ),
        formula="arctan μ for one face, 2 arctan μ for two",
        source="Coulomb friction",
        caution="Vibration and oil undo it. Secure what must not move by something other than friction.",
    ),
    Calculation(
        id="compound-travel",
        group=_TAPERS,
        title="Travel along a compound slide",
        asks="How far is the compound wound in for this depth?",
        inputs=(
            Input("depth_nm", "Depth", "length", default="1 mm"),
            Input("compound_deg", "Compound set over by", "number", "°", default="29.5", least=-89, greatest=89),
        ),
        work=lambda inputs: (_length("Travel", compound_travel_nm(inputs["depth_nm"], inputs["compound_deg"])),),
        formula="depth / cos(angle), the angle from the cross-slide's direction",
        source="geometry",
    ),
    Calculation(
        id="stock-weight",
        group=_STOCK,
        title="Weight of stock",
        asks="What does this bar weigh?",
        inputs=(
            Input("material", "Material", "choice", choices=_MATERIALS, default=_MATERIALS[0]),
            Input("section", "Section", "choice", choices=SECTIONS, default="round"),
            Input("size_nm", "Size", "length", default="50 mm", hint="diameter, side, across flats, width"),
            Input("second_nm", "Second size", "length", optional=True, hint="thickness of a flat, wall of a tube"),
            Input("length_nm", "Length", "length", default="1000 mm"),
        ),
        work=_weight,
        formula="area × length × density; hexagon (√3/2) s², tube π t (D − t)",
        source=f"densities {DENSITY_STANDING}",
        caution="Lift by the weight you find, not by the look of it; lifting gear is marked with its limit.",
    ),
    Calculation(
        id="blanks",
        group=_STOCK,
        title="Blanks from a bar",
        asks="How many blanks does a bar give, and what is left?",
        inputs=(
            Input("bar_nm", "Bar", "length", default="1000 mm"),
            Input("finished_nm", "Finished piece", "length", default="62 mm"),
            Input("saw_cut_nm", "Saw cut", "length", default="2 mm"),
            Input("facing_nm", "Facing, each end", "length", default="1 mm"),
            Input("kept_nm", "End that cannot be used", "length", default="0 mm"),
            Input("count", "Blanks wanted", "whole", optional=True, least=1, greatest=100_000),
        ),
        work=_blanks,
        formula="(bar + cut) / (piece + 2 facing + cut), whole; with an end kept (bar − kept) / (…)",
        source="counting",
    ),
    Calculation(
        id="sheet-gauge",
        group=_STOCK,
        title="Thickness of a gauge number",
        asks="How thick is sheet or wire of this gauge?",
        inputs=(
            _GAUGE,
            Input("number", "Number", "whole", default="16", least=-3, greatest=40, hint="0, −1, −2, −3: 0 to 0000"),
        ),
        work=lambda inputs: (_length("Thickness", thickness_nm(inputs["gauge"], inputs["number"]), "nominal"),),
        formula="American 0.005 in × 92^((36−n)/39); manufacturers' standard oz/ft² / 16 / 41.82; Birmingham a table",
        source="ASTM B258 (formula found); U.S. standard gauge of 1893 (from memory); Holtzapffel's table (found)",
    ),
    Calculation(
        id="gauge-number",
        group=_STOCK,
        title="Gauge number of a thickness",
        asks="Which gauge number is this sheet?",
        inputs=(_GAUGE, Input("thickness", "Thickness measured", "length", default="1.5 mm")),
        work=lambda inputs: (
            Output("Nearest number", number := nearest_number(inputs["gauge"], inputs["thickness"])),
            _length("Its thickness", thickness_nm(inputs["gauge"], number)),
        ),
        formula="the number whose thickness is nearest",
        source="as for the thickness of a gauge number",
    ),
)
