"""Handbook calculations on what goes together: chains, windows, matching, end clearance, the next cut, blanks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, Final

from server.trade.chain_sampling import sample_chain
from server.trade.chain_text import parse_members, parse_wanted
from server.trade.chains import (
    contributions,
    left_of_budget,
    middle_nm,
    probability_inside,
    root_sum_square,
    worst_case,
)
from server.trade.errors import Impossible
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.length import Unit, format_length
from server.trade.matching import Choice, Mating, match, sorted_to_sorted
from server.trade.next_cut import GUESS, Cut, Prior, advise, learn, spring_pass
from server.trade.slider_crank import SliderCrank, end_clearances, greatest_throw_nm
from server.trade.ways_out import Way, ways_out
from server.trade.windows import Demand, End, Unmade, target_nm, window
from server.trade.yield_of_blanks import History, blanks_to_start

_GROUP: Final = "Going together"
_NEXT: Final = "What to make next"
_SPREADS: Final = ("rectangular", "normal", "worst")
_UNIT: Final = Input("figures_in", "Bare figures are in", "choice", choices=("mm", "in"), default="mm")
_MEMBERS_HINT: Final = "each with its sign, apart by semicolons; a measured one as - measured 20.012 ±0.004"


def _length(label: str, value_nm: int, note: str = "") -> Output:
    return Output(label, value_nm, "length", note=note)


def _percent(label: str, share: float, note: str = "", decimals: int = 2) -> Output:
    return Output(label, 100 * share, "number", "%", decimals, note)


def _stack_up(inputs: Mapping[str, Any]) -> Sequence[Output]:
    unit: Unit = inputs["figures_in"]
    members = parse_members(inputs["members"], unit, inputs["spread"])
    wanted = parse_wanted(inputs["wanted"], unit, "wanted")
    worst, square = worst_case(members), root_sum_square(members)
    left = left_of_budget(worst, wanted.low_nm, wanted.high_nm)
    sampled = sample_chain(members, wanted.low_nm, wanted.high_nm)
    found = [
        _length("Middle of the total", round(middle_nm(members))),
        _length("Worst case, least", worst.low_nm),
        _length("Worst case, greatest", worst.high_nm),
        _length("Root-sum-square, least", square.low_nm, "about the middle of the limits"),
        _length("Root-sum-square, greatest", square.high_nm),
    ]
    for label, room_nm in (("below", left.below_nm), ("above", left.above_nm)):
        if room_nm is not None:
            found.append(_length(f"Left {label} the worst case", room_nm, "negative: past that limit by so much"))
    found += [
        _percent(
            "Inside the limits", sampled.inside, f"{sampled.samples} samples, ± {200 * sampled.inside_error:.2g} %"
        ),
        _percent("Under them", sampled.below),
        _percent("Over them", sampled.above),
        _percent("Inside, taken as normal", probability_inside(members, wanted.low_nm, wanted.high_nm)),
    ]
    found += [
        _percent(f"Share of {each.name}", each.variance_share, f"of the worst case {100 * each.worst_share:.1f} %", 1)
        for each in contributions(members)
    ]
    return found


def _last_member(inputs: Mapping[str, Any]) -> Sequence[Output]:
    unit: Unit = inputs["figures_in"]
    others = parse_members(inputs["others"], unit, field="others")
    wanted = parse_wanted(inputs["wanted"], unit, "wanted")
    own = parse_wanted(inputs["own"], unit, "own") if inputs["own"] else None
    unmade = Unmade(
        "this one",
        own.low_nm if own else None,
        own.high_nm if own else None,
        inputs["cutting"],
        float(inputs["uncertainty_nm"]),
    )
    demands = [Demand("the total", 1 if inputs["sign"] == "+" else -1, wanted.low_nm, wanted.high_nm, tuple(others))]
    found = window(unmade, demands)
    outputs = [
        _length(label, end.size_nm, _why(end, unit))
        for label, end in (("From", found.low), ("To", found.high))
        if end is not None
    ]
    if found.is_open:
        if found.width_nm is not None:
            outputs.append(_length("Room", found.width_nm))
        outputs.append(_length("Cut to", target_nm(found, inputs["cutting"]), "the middle, or the one end there is"))
        return outputs
    outputs.append(_length("Short by", found.short_nm, "there is no size that does: from lies above to"))
    ways = ways_out(unmade, demands)
    outputs += [Output(f"Way out {n}", _said(way, unit), "text") for n, way in enumerate(ways, 1)]
    if not ways:
        outputs.append(Output("Way out", "no one change is enough", "text"))
    return outputs


def _why(end: End, unit: Unit) -> str:
    reason = end.reason
    at = f"{format_length(reason.limit_nm, unit)} {unit}"
    guard = f", {format_length(reason.guard_nm, unit)} kept for uncertainty" if reason.guard_nm else ""
    limit = "lowest" if reason.limit == "low" else "highest"
    if reason.source == "own limits":
        return f"its own {limit} limit, {at}{guard}"
    return f"{reason.source} at its {limit}, {at}, the rest at {format_length(reason.rest_nm, unit)}{guard}"


def _said(way: Way, unit: Unit) -> str:
    by, to = format_length(way.by_nm, unit), format_length(way.to_nm, unit)
    what = {"low": "lowest limit", "high": "highest limit", "size": "size", "uncertainty": "uncertainty U"}[way.what]
    return f"{way.kind}: {way.name}, {what} by {by} to {to} {unit}"


def _matching(inputs: Mapping[str, Any]) -> Sequence[Output]:
    places: list[int] = inputs["places_nm"]
    pieces: list[int] = inputs["pieces_nm"]
    low_nm, high_nm = inputs["low_nm"], inputs["high_nm"]
    holes = inputs["places_are"] == "holes"
    if low_nm is None and high_nm is None:
        return [
            _length(f"Place {i + 1}", (places[i] - pieces[j]) * (1 if holes else -1), f"piece {j + 1}")
            for i, j in sorted_to_sorted(places, pieces)
        ]
    one_each = [[size] for size in places], [[size] for size in pieces]
    found = match(*one_each, [Mating(low_nm, high_nm, holes)], near_nm=inputs["near_nm"])
    best = found.best
    outputs = [
        _length(f"Place {i + 1}", gaps[0], f"piece {j + 1}")
        for (i, j), gaps in zip(best.pairs, best.clearances_nm, strict=True)
    ]
    outputs += [Output(f"Place {i + 1}", "no piece fits", "text") for i in found.places_left]
    if found.pieces_left:
        outputs.append(Output("Pieces left over", ", ".join(str(j + 1) for j in found.pieces_left), "text"))
    outputs += [*_worth("", best), *_worth(", as they lie", found.as_they_lie)]
    said = "no other choice comes near"
    if found.runner_up is not None and found.near:
        swapped = ", ".join(f"{i + 1}–{j + 1}" for i, j in found.runner_up.pairs)
        said = f"{'just as good' if found.tied else 'not to be told apart by measurement'}: {swapped} (place–piece)"
    outputs.append(Output("Other choices", said, "text"))
    return outputs


def _worth(when: str, choice: Choice) -> list[Output]:
    found = [Output(f"Pairs inside{when}", choice.inside, "number", decimals=0)]
    if choice.worst_margin_nm is not None:
        found.append(_length(f"Worst margin{when}", choice.worst_margin_nm, "clearance to the nearer limit"))
    return found


def _end_clearance(inputs: Mapping[str, Any]) -> Sequence[Output]:
    least_nm: int = inputs["least_nm"]
    lengths = {name: inputs[name] for name in SliderCrank.__dataclass_fields__ if name != "clearances_nm"}
    mechanism = SliderCrank(**lengths, clearances_nm=tuple(inputs["clearances_nm"]))
    found = end_clearances(mechanism)
    outer_nm, inner_nm = found.evened_nm()
    short_nm = found.short_nm(least_nm)
    outputs = [
        _length("Clearance at the far stop", found.loaded_outer_nm, "bearings taken up; negative: it strikes"),
        _length("Clearance at the near stop", found.loaded_inner_nm, "bearings taken up; negative: it strikes"),
        _length("Stroke", found.stroke_nm),
        _length("Shim to even them", found.shim_nm, "between pin and slide; negative: take so much out"),
        _length("Then at the far stop", outer_nm),
        _length("Then at the near stop", inner_nm),
        Output("Can a shim give what is wanted", "no" if short_nm else "yes", "text"),
    ]
    if short_nm:
        throw_nm = greatest_throw_nm(mechanism, least_nm)
        outputs.append(_length("Short in all by", short_nm))
        if throw_nm is not None:
            outputs.append(_length("Greatest throw that would do", throw_nm))
    return outputs


def _next_cut(inputs: Mapping[str, Any]) -> Sequence[Output]:
    prior = Prior(
        float(inputs["offset_nm"]),
        float(inputs["offset_sd_nm"]),
        inputs["spring"] / 100,
        inputs["spring_sd"] / 100,
        float(inputs["scatter_nm"]),
        inputs["figures_from"],
    )
    typed: list[int] = inputs["cuts_nm"] or []
    if len(typed) % 2:
        why = "a cut is two sizes, the one commanded and the one measured"
        raise Impossible(
            "cuts_nm", f"{len(typed)} sizes", why, "commanded and measured in turn: 20.4 20.428; 20.2 20.217"
        )
    cuts: list[Cut] = []
    size_nm: int = inputs["start_nm"]
    for commanded_nm, measured_nm in zip(typed[::2], typed[1::2], strict=True):
        cuts.append(Cut(size_nm, commanded_nm, measured_nm))
        size_nm = measured_nm
    risk = inputs["most_risk"] / 100
    advice = advise(inputs["low_nm"], inputs["high_nm"], inputs["cutting"], size_nm, cuts, prior, most_risk=risk)
    known = learn(prior, cuts)
    outputs = [Output("Next", _ADVICE[advice.kind], "text")]
    if advice.commanded_nm is not None:
        outputs.append(_length("Command", advice.commanded_nm, "a guess is behind it" if advice.guess else ""))
    if advice.predicted is not None:
        outputs += [
            _length("Expected size", round(advice.predicted.size_nm)),
            _length("Standard deviation", round(advice.predicted.sd_nm)),
            _percent("Chance of passing the far limit", advice.risk),
        ]
        if advice.kind != "first of two":  # which is not meant to be good yet
            outputs.append(_percent("Chance of a good size", advice.good))
    outputs += [
        _length("Offset as learnt", round(known.offset_nm)),
        Output("Spring as learnt", 100 * known.spring, "number", "%", 2, "of the depth"),
    ]
    if cuts:
        again = spring_pass(known, cuts[-1])
        outputs.append(_length("Last command once more takes", round(again.size_nm), "off the size; never the offset"))
    if known.surprise is not None and abs(known.surprise) > 3:
        said = f"{abs(known.surprise):.1f} standard deviations from expected: look at cutter and reading first"
        outputs.append(Output("Last result", said, "text"))
    figures = "a guess" if advice.guess else "the shop's own log"
    outputs.append(Output("Figures of the machine", figures, "text"))
    return outputs


_ADVICE: Final = {
    "finish": "one cut to the size",
    "first of two": "half the way, measure, then the same depth again",
    "too risky": "no cut: the limits are too near together for this scatter; the figures are of a cut to the middle",
    "good": "nothing: it is inside its limits",
    "past the limit": "nothing: cutting cannot bring it back",
}


def _blanks_to_start(inputs: Mapping[str, Any]) -> Sequence[Output]:
    history = History(inputs["good"], inputs["scrap"])
    found = blanks_to_start(history, inputs["needed"], float(Fraction(str(inputs["chance"])) / 100))
    return (
        Output("Blanks to start", found.start, "number", decimals=0),
        _percent("Chance of enough good ones", float(found.chance)),
        _percent("Chance with one blank fewer", float(found.one_less)),
        _percent("Chance that one blank comes good", float(history.chance_of_one)),
    )


CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        id="stack-up",
        group=_GROUP,
        title="Stack-up of a chain",
        asks="Do these dimensions add up to what is wanted?",
        inputs=(
            Input("members", "Members", "text", default="+ 60 ±0.05; - 20 ±0.03; - 39.9 ±0.04", hint=_MEMBERS_HINT),
            Input(
                "wanted", "Total wanted", "text", default="0.02 to 0.18", hint="limits, such as 0.02 to 0.18, or min 0"
            ),
            Input("spread", "Drawn sizes lie", "choice", choices=_SPREADS, default="rectangular"),
            _UNIT,
        ),
        work=_stack_up,
        formula="worst Σ|a|t; root-sum-square √Σ(a t)², about the middle of the limits; share (a s)² / Σ(a s)²",
        source="Chase, ADCATS 99-6, 1999 (worked figures tested); GUM 5.1 (from memory)",
        caution="Where a gap keeps moving metal apart or holds pressure, take the worst case and the makers' word.",
    ),
    Calculation(
        id="last-member",
        group=_GROUP,
        title="Window for the last member",
        asks="Which sizes are still open to the one not made yet?",
        inputs=(
            Input("others", "The other members", "text", default="+ measured 31.782 ±0.004", hint=_MEMBERS_HINT),
            Input("sign", "This one counts", "choice", choices=("-", "+"), default="-"),
            Input("wanted", "Total wanted", "text", default="0.04 to 0.06", hint="limits of the gap or total"),
            Input("own", "Its own limits", "text", optional=True, hint="such as 31.70 to 31.75"),
            Input("cutting", "Cutting makes it", "choice", choices=("smaller", "larger", "neither"), default="smaller"),
            Input("uncertainty_nm", "Uncertainty of its reading, U", "length", default="0.002 mm"),
            _UNIT,
        ),
        work=_last_member,
        formula="(wanted − rest) / a, each end with the rest at its worst, U of every reading kept off",
        source="interval arithmetic (computed, no source)",
        caution="A clearance that matters for heat, oil or pressure is the maker's to say, before the window is.",
    ),
    Calculation(
        id="matching",
        group=_GROUP,
        title="Matching pieces to places",
        asks="Which piece goes to which place?",
        inputs=(
            Input("places_nm", "Sizes of the places", "lengths", default="20.010mm 20.014mm 20.018mm 20.021mm"),
            Input("pieces_nm", "Sizes of the pieces", "lengths", default="20.001mm 19.994mm 19.998mm 20.004mm"),
            Input("places_are", "The places are", "choice", choices=("holes", "shafts"), default="holes"),
            Input("low_nm", "Least clearance wanted", "length", optional=True, hint="negative: interference"),
            Input("high_nm", "Greatest clearance wanted", "length", optional=True),
            Input("near_nm", "Uncertainty of a clearance", "length", default="0.002 mm"),
        ),
        work=_matching,
        formula="most pairs inside, then the largest worst margin, then the least Σ(distance from the middle)²",
        source="exchange argument; assignment problem, Kuhn 1955 (from memory)",
    ),
    Calculation(
        id="end-clearance",
        group=_GROUP,
        title="End clearance of a slide on a crank",
        asks="What is left at both dead centres, and which shim evens them?",
        inputs=(
            Input("throw_nm", "Throw of the crank", "length", default="20 mm"),
            Input("rod_nm", "Connecting rod, between centres", "length", default="100 mm"),
            Input("pin_to_face_nm", "Slide's pin to its near face", "length", default="30 mm"),
            Input("slide_nm", "Slide, near face to far face", "length", default="12 mm"),
            Input("near_stop_nm", "Shaft to the near stop", "length", default="108.8 mm"),
            Input("between_stops_nm", "Near stop to far stop", "length", default="54.4 mm"),
            Input("offset_nm", "Slide's line passes the shaft by", "length", default="0 mm"),
            Input("clearances_nm", "Clearances of the bearings", "lengths", default="0", hint="on the diameter"),
            Input("least_nm", "Least wanted at each end", "length", default="0.5 mm"),
        ),
        work=_end_clearance,
        formula="far: stop − √((rod+throw)² − offset²) − face − slide; near: √((rod−throw)² − offset²) + face − stop",
        source="Pythagoras (computed, no source)",
        caution=(
            "A slide that strikes its end breaks rods and covers. Turn it over by hand through a whole turn before any "
            "power, and leave room for heat, wear, and water or oil that may be shut in; makers and codes decide."
        ),
    ),
    Calculation(
        id="next-cut",
        group=_NEXT,
        title="The next cut",
        asks="What to command next, in one cut or in two?",
        inputs=(
            Input("low_nm", "Lowest size wanted", "length", default="19.98 mm"),
            Input("high_nm", "Highest size wanted", "length", default="20 mm"),
            Input("cutting", "Cutting makes it", "choice", choices=("smaller", "larger"), default="smaller"),
            Input("start_nm", "Size before the first cut", "length", default="20.52 mm"),
            Input("cuts_nm", "Cuts so far", "lengths", optional=True, hint="commanded and measured in turn"),
            Input("scatter_nm", "Scatter of a cut, 1 s", "length", default="0.003 mm"),
            Input("offset_nm", "Offset to be expected", "length", default="0 mm"),
            Input("offset_sd_nm", "Offset, 1 s", "length", default=f"{GUESS.u_offset_nm / 1e6:g} mm"),
            Input("spring", "Spring to be expected", "number", "%", default="2", least=0, greatest=90),
            Input("spring_sd", "Spring, 1 s", "number", "%", default="5", least=0.001, greatest=100),
            Input(
                "figures_from", "These figures are", "choice", choices=("a guess", "the shop's log"), default="a guess"
            ),
            Input(
                "most_risk",
                "Greatest risk of passing the far limit",
                "number",
                "%",
                default="0.3",
                least=0.01,
                greatest=20,
            ),
        ),
        work=_next_cut,
        formula="result = command + b + k (previous − command) + scatter; command = (target − b − k previous)/(1 − k)",
        source="linear Gaussian regression (computed, no source); the figures of the machine are placeholders",
        caution="Stop the spindle before measuring. A cut too thin for the edge rubs, and takes nothing or too much.",
    ),
    Calculation(
        id="blanks-to-start",
        group=_NEXT,
        title="Blanks to start",
        asks="How many blanks give enough good pieces?",
        inputs=(
            Input("needed", "Good pieces needed", "whole", default="4", least=1, greatest=200),
            Input("good", "Like pieces that came good", "whole", default="9", least=0, greatest=100_000),
            Input("scrap", "Like pieces that were scrapped", "whole", default="1", least=0, greatest=100_000),
            Input("chance", "Chance wanted", "number", "%", default="95", least=1, greatest=99.99),
        ),
        work=_blanks_to_start,
        formula="beta-binomial, uniform prior: P(good) of one is (good + 1) / (good + scrap + 2)",
        source="Gelman et al., Bayesian Data Analysis, ch. 2 (from memory); exact in fractions",
    ),
)
