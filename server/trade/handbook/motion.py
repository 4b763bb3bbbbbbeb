"""Handbook calculations on motion work: coupled cranks turned over, and the rods of the second side slipped on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.errors import TradeError
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.turnover import Arc, TurnOver, turn_over
from server.trade.turnover_remedy import bearing_openings, changes
from server.trade.turnover_sides import second_side
from server.trade.turnover_train import CrankSide, Side, TrainGeometry

_GROUP: Final = "Motion work"
_SOURCE: Final = (
    "plane geometry of coupled cranks, worked out for this program, no published source; tested against a linear "
    "programme of every part's position and, for two shafts, against circles and the cosine rule"
)
_CAUTION: Final = (
    "A starting point, not a ruling. Pins out of square, the film of oil and shafts that rise and fall are not in it: "
    "take them off the clearances. Bar the set over by hand only, never under power, with fingers clear of the rods."
)
_MOST_ARCS: Final = 4


def _side(name: Side) -> tuple[Input, ...]:
    word = name.capitalize()
    centres, rod = ("120.03 mm", "120 mm") if name == "near" else ("120.02 mm", "120.01 mm")
    return (
        Input(f"{name}_centres_nm", f"{word} side, shaft centres", "length", default=centres),
        Input(f"{name}_rod_nm", f"{word} rod, centre to centre", "length", default=rod),
        *(
            Input(f"{name}_throw_{shaft}_nm", f"{word} throw of shaft {shaft}", "length", default="20 mm")
            for shaft in (1, 2)
        ),
        *(
            Input(
                f"{name}_rod_clearance_{shaft}_nm",
                f"{word} rod, clearance at shaft {shaft}",
                "length",
                default="0.05 mm",
                hint="bore less pin",
            )
            for shaft in (1, 2)
        ),
        *(
            Input(
                f"{name}_shaft_clearance_{shaft}_nm",
                f"{word} bearing of shaft {shaft}, clearance",
                "length",
                default="0 mm",
                hint="bore less journal",
            )
            for shaft in (1, 2)
        ),
    )


_TWO_SHAFTS: Final = (
    *_side("near"),
    *_side("far"),
    Input(
        "quartering_deg",
        "Quartering of shaft 2 less that of shaft 1",
        "number",
        "°",
        default="0.1",
        least=-5,
        greatest=5,
        hint="how much more shaft 2's far crank leads",
    ),
    Input(
        "between_sides_deg",
        "Far crank ahead of the near one, shaft 1",
        "number",
        "°",
        default="90",
        least=-180,
        greatest=180,
        hint="minus: behind",
    ),
)
_INPUT_OF: Final = {  # the train counts its spaces and its errors; a page for two shafts has one of each
    **{f"{side}_{what}_1_nm": f"{side}_{what}_nm" for side in ("near", "far") for what in ("centres", "rod")},
    "near_rods_nm": "near_rod_nm",
    "far_rods_nm": "far_rod_nm",
    "quartering_1_deg": "quartering_deg",
    "quartering_2_deg": "quartering_deg",
}


def _train(inputs: Mapping[str, Any]) -> TrainGeometry:
    def side(name: Side) -> CrankSide:
        first, second = ([inputs[f"{name}_{what}_{n}_nm"] for n in (1, 2)] for what in ("throw", "rod_clearance"))
        return CrankSide(
            centres_nm=(inputs[f"{name}_centres_nm"],),
            rods_nm=(inputs[f"{name}_rod_nm"],),
            throws_nm=tuple(first),
            rod_clearances_nm=((second[0], second[1]),),
            shaft_clearances_nm=tuple(inputs[f"{name}_shaft_clearance_{n}_nm"] for n in (1, 2)),
        )

    try:
        return TrainGeometry(side("near"), side("far"), (0.0, inputs["quartering_deg"]), inputs["between_sides_deg"])
    except TradeError as error:
        field = _INPUT_OF.get(error.field, error.field)
        raise type(error)(field, error.read, error.why, error.accepts) from error


def _say_arcs(arcs: Sequence[Arc]) -> str:
    if not arcs:
        return "nowhere"
    if arcs[0].to_deg - arcs[0].from_deg >= 360.0:
        return "all round"
    said = [
        f"{arc.from_deg:.4g}°" + (f" to {arc.to_deg % 360.0:.4g}°" if arc.to_deg - arc.from_deg > 0.05 else "")
        for arc in arcs[:_MOST_ARCS]
    ]
    return "; ".join(said) + (" and elsewhere" if len(arcs) > _MOST_ARCS else "")


def _say_sides(found: TurnOver) -> str:
    near = round(found.near_share * 100)
    name = "near side" if near == 100 else "far side" if near == 0 else "both sides against each other"
    return f"{name}: near {near} %, far {100 - near} %"


def _turn_over(inputs: Mapping[str, Any]) -> Sequence[Output]:
    train = _train(inputs)
    found = turn_over(train)
    causes = _causes(found)
    binding = Output("There bind" if not found.turns else "There bind first", _say_sides(found), "text")
    return (
        Output("The set", "turns" if found.turns else "binds", "text"),
        Output("Least spare clearance", round(found.spare_nm), "length", note="in every rod bore; negative: lacking"),
        Output("At near crank angles", _say_arcs(found.worst_arcs), "text"),
        *((binding,) if causes else ()),
        *(
            Output(f"Taken by {cause}", nm / 1000, "number", "µm", 1, note="of the clearance there; minus: given back")
            for cause, nm in causes[:3]
        ),
        *(() if found.turns else _remedies(train)),
    )


def _causes(found: TurnOver) -> list[tuple[str, float]]:
    """What the errors take at the worst angle [nm], those of one kind on one side together, the largest first."""
    taken: dict[str, float] = {}
    for part in found.contributions:
        kind, side = part.dimension.kind, part.dimension.side
        if not kind.endswith("bearing"):
            name = {"rod": f"{side} rod against shaft centres", "throw": f"{side} throws"}.get(kind, kind)
            taken[name] = taken.get(name, 0.0) + part.nm
    return sorted(((name, nm) for name, nm in taken.items() if round(nm)), key=lambda each: -abs(each[1]))


def _remedies(train: TrainGeometry) -> tuple[Output, ...]:
    bores = [each for each in bearing_openings(train) if each.bearing.kind == "rod bearing"]
    least = bores[0]
    if math.isinf(least.opening_nm):
        opening = Output("One bore opened alone", "no single bore frees it", "text")
    else:
        where = train.words(least.bearing)
        opening = Output(
            "One bore opened alone", math.ceil(least.opening_nm), "length", note=f"{where}; on the diameter"
        )
    rod, *_ = changes(train, [each for each in train.dimensions() if each.kind == "rod"])
    if rod.least_change is None:
        return opening, Output("One rod made otherwise", "no single rod frees it", "text")
    note = f"{rod.dimension.side} rod; leaves the most to spare; minus: shorter"
    return opening, Output("One rod longer by", round(rod.best_change), "length", note=note)


def _second_side(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = second_side(_train(inputs), inputs["first"], inputs["to_spare_nm"])
    reach = "all round" if len(found.reach) == 1 else "only between its dead centres"
    return (
        Output("Second side slips on at near crank angles", _say_arcs(found.goes_on), "text"),
        Output("Best at", round(found.best_deg, 1), "number", "°", 1),
        Output("To spare there", round(found.spare_nm), "length", note="in every rod bore; negative: lacking"),
        Output("First side alone can be turned", reach, "text"),
        *(
            Output(
                f"Over its dead centre at {each.angle_deg:.4g}°",
                round(-each.lacks_nm),
                "length",
                note="to spare in each of its bores; negative: it stops there",
            )
            for each in found.dead_centres
        ),
    )


CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="turn-over",
        group=_GROUP,
        title="Will it turn over",
        asks="Do two coupled shafts turn, or where do their rods bind, and by how much?",
        inputs=_TWO_SHAFTS,
        work=_turn_over,
        formula="a = centres − rod + (throw 2 − throw 1) cos ψ (far: − R sin ψ Δquartering); s = sin ψ; "
        "F = s_far a_near − s_near a_far; turns if |F| ≤ C_near |s_far| + C_far |s_near| all round; "
        "C = half the side's clearances",
        source=_SOURCE,
        caution=_CAUTION,
    ),
    Calculation(
        id="second-side",
        group=_GROUP,
        title="First side on, second side",
        asks="At which crank angles do the rods of the second side slip on?",
        inputs=(
            *_TWO_SHAFTS,
            Input("first", "Side that is on", "choice", choices=("near", "far"), default="near"),
            Input("to_spare_nm", "Wanted to spare in every bore", "length", default="0 mm"),
        ),
        work=_second_side,
        formula="slips on where |F| ≤ (C_near − spare) |s_far| + (C_far − spare) |s_near|, as in Will it turn over; "
        "the first side passes its dead centre if |centres − rod ± (throw 2 − throw 1)| ≤ C",
        source=_SOURCE,
        caution=_CAUTION,
    ),
)
