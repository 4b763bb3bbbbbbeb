"""A dimension drawn as a scale: where its limits, its nominal and its readings stand between the two ends.

Places are fractions of the scale's length, 0 at its left end and 1 at its right; whoever draws it decides how long that
is. Assumption: sizes grow to the right.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from server.rules.facts import LimitFacts
from server.rules.next_move import shown
from server.rules.verdict import judge
from server.trade.length import NM_PER_MM, NM_PER_UM, Unit

Shown = Literal["good", "metal left", "past the limit", "too close to call"]
Standing = Literal["latest", "earlier", "replaced"]

# A reading further outside than this many widths of the limits would squeeze them together: it stands at the end.
REACH: Final = 3
LEAST_WIDTH_NM: Final = 1 * NM_PER_UM
LEAST_ONE_SIDED_NM: Final = 10 * NM_PER_UM
_Place = Callable[[int], float]
_GAP: Final = 1.5  # characters between two figures


@dataclass(frozen=True, slots=True)
class Punch:
    """One reading on the scale. off: -1 or 1 where it lies beyond the left or right end and is shown at that end."""

    at: float
    value_nm: int
    standing: Standing
    off: Literal[-1, 0, 1] = 0


@dataclass(frozen=True, slots=True)
class Figure:
    """A size written beside the scale. tick: the place it belongs to; at: the middle of the text, moved clear."""

    of: Literal["low", "nominal", "high", "latest"]
    text: str
    tick: float
    at: float


@dataclass(frozen=True, slots=True)
class Scale:
    """A dimension ready to be drawn.

    low, nominal, high  places of the lines; None where there is none, or where the nominal is too far off to be drawn
    zone                from and to of what is acceptable; None for a reference. It runs to the end on an open side
    standing_metal      from and to of the metal still to come off, where the verdict is metal left
    punches             readings in the order to draw them: replaced ones first, the latest last
    figures             the limits' own, left to right, clear of each other; they belong under the line
    reading             the latest reading's figure, above the line
    word                verdict on the latest reading; None without one, and for a reference, which nothing judges
    words               the whole scale in one sentence
    """

    unit: Unit
    low: float | None
    nominal: float | None
    high: float | None
    zone: tuple[float, float] | None
    standing_metal: tuple[float, float] | None
    punches: tuple[Punch, ...]
    figures: tuple[Figure, ...]
    reading: Figure | None
    word: Shown | None
    words: str

    @property
    def latest(self) -> Punch | None:
        return self.punches[-1] if self.reading is not None else None


def scale_of(
    limits: LimitFacts,
    readings: Sequence[int] = (),
    *,
    unit: Unit = "mm",
    replaced: Sequence[int] = (),
    word: Shown | None = None,
    character: float = 0.031,
) -> Scale:
    """The scale of one dimension.

    readings   those that stand [nm], in the order they were made: the last is the latest
    unit       what the figures are told in
    replaced   readings that were corrected or taken back [nm]
    word       the verdict to draw on the latest; None: as the limits alone judge it
    character  width of one character of a figure, as a fraction of the scale's length

    Any limits are taken: both, one, none (a reference), of no width, with the nominal outside them; and readings any
    distance outside. The range shows the limits with room at both sides and every standing reading up to three widths
    outside them; one further out stands at the end and says so.
    """
    start, end = _range(limits, readings)

    def at(nm: int) -> float:
        return min(1.0, max(0.0, (nm - start) / (end - start)))

    def punch(nm: int, standing: Standing) -> Punch:
        return Punch(at(nm), nm, standing, -1 if nm < start else 1 if nm > end else 0)

    low = None if limits.low_nm is None else at(limits.low_nm)
    high = None if limits.high_nm is None else at(limits.high_nm)
    nominal_nm = limits.nominal_nm if limits.nominal_nm is not None and start <= limits.nominal_nm <= end else None
    latest_nm = readings[-1] if readings else None
    judged = None if latest_nm is None else judge(latest_nm, limits).word
    if judged is None or judged == "reference":
        word = None
    elif word is None:
        word = judged
    punches = [punch(nm, "replaced") for nm in replaced] + [punch(nm, "earlier") for nm in readings[:-1]]
    reading = None
    if latest_nm is not None:
        punches.append(punch(latest_nm, "latest"))
        text = shown(latest_nm, unit)
        half = len(text) * character / 2
        reading = Figure("latest", text, at(latest_nm), min(max(at(latest_nm), half), max(half, 1 - half)))
    return Scale(
        unit=unit,
        low=low,
        nominal=None if nominal_nm is None else at(nominal_nm),
        high=high,
        zone=None if low is None and high is None else (low or 0.0, 1.0 if high is None else high),
        standing_metal=_standing_metal(limits, latest_nm, word, low, high, at),
        punches=tuple(punches),
        figures=_figures(limits, nominal_nm, unit, at, character),
        reading=reading,
        word=word,
        words=_words(limits, readings, replaced, word, unit),
    )


def _range(limits: LimitFacts, readings: Sequence[int]) -> tuple[int, int]:
    """The sizes at the two ends [nm], the left one always smaller."""
    low, high, nominal = limits.low_nm, limits.high_nm, limits.nominal_nm
    if low is not None and high is not None:
        width = max(high - low, LEAST_WIDTH_NM)
        drawn = [nm for nm in readings if low - REACH * width <= nm <= high + REACH * width]
        if nominal is not None and low - width <= nominal <= high + width:
            drawn.append(nominal)
        start, end = min([low - width // 2, *drawn]), max([high + width // 2, *drawn])
    else:
        anchor = next((nm for nm in (low, high, nominal, *readings[-1:]) if nm is not None), 0)
        most = max(2 * abs(anchor), NM_PER_MM)
        away = [abs(nm - anchor) for nm in readings if abs(nm - anchor) <= most]
        usual = max(abs(anchor) // 5, LEAST_ONE_SIDED_NM)
        width = max([*away, abs(anchor) // 1000, LEAST_ONE_SIDED_NM]) if away else usual
        # The open side is the one on which good readings lie: it gets the room.
        start = anchor - (width // 2 if low is not None else width)
        end = anchor + (width // 2 if high is not None else width)
        inside = [nm for nm in readings if abs(nm - anchor) <= most]
        start, end = min([start, *inside]), max([end, *inside])
    margin = max((end - start) // 12, 1)
    return start - margin, end + margin


def _standing_metal(
    limits: LimitFacts,
    latest_nm: int | None,
    word: Shown | None,
    low: float | None,
    high: float | None,
    at: _Place,
) -> tuple[float, float] | None:
    if latest_nm is None or word != "metal left":
        return None
    if limits.high_nm is not None and high is not None and latest_nm > limits.high_nm:
        return high, at(latest_nm)
    if limits.low_nm is not None and low is not None and latest_nm < limits.low_nm:
        return at(latest_nm), low
    return None


def _figures(
    limits: LimitFacts, nominal_nm: int | None, unit: Unit, at: _Place, character: float
) -> tuple[Figure, ...]:
    """Limits first; the nominal only where it needs no room of theirs, since its line stands there anyway."""
    wanted: list[tuple[Literal["low", "nominal", "high"], int]] = []
    if limits.low_nm is not None:
        wanted.append(("low", limits.low_nm))
    if limits.high_nm is not None:
        wanted.append(("high", limits.high_nm))
    ticks = [at(nm) for _, nm in wanted]
    texts = [shown(nm, unit) for _, nm in wanted]
    if len(wanted) == 2 and texts[0] == texts[1]:
        wanted, ticks, texts = wanted[:1], ticks[:1], texts[:1]
    places = _spread(ticks, [(len(text) + _GAP) * character for text in texts])
    figures = [
        Figure(of, text, tick, place) for (of, _), text, tick, place in zip(wanted, texts, ticks, places, strict=True)
    ]
    if nominal_nm is not None:
        text, tick = shown(nominal_nm, unit), at(nominal_nm)
        half = (len(text) + _GAP) * character / 2
        clear = all(abs(tick - other.at) >= half + (len(other.text) + _GAP) * character / 2 for other in figures)
        if clear and half <= tick <= 1 - half:
            figures.append(Figure("nominal", text, tick, tick))
    return tuple(sorted(figures, key=lambda each: each.at))


def _spread(ticks: list[float], widths: list[float]) -> list[float]:
    """Middles for texts of these widths, as near to their ticks (in rising order) as they can be without touching.

    With the widths before it taken off, texts that do not touch are places that do not fall: pooling those that would
    (least squares under an order) moves each as little as can be; the two ends are then plain bounds.
    """
    before = [sum(widths[:place]) + width / 2 for place, width in enumerate(widths)]
    pools: list[list[float]] = []
    for tick, offset in zip(ticks, before, strict=True):
        pools.append([tick - offset])
        while len(pools) > 1 and _mean(pools[-2]) > _mean(pools[-1]):
            last = pools.pop()
            pools[-1].extend(last)
    most = max(0.0, 1 - sum(widths))
    free = [min(max(_mean(pool), 0.0), most) for pool in pools for _ in pool]
    return [place + offset for place, offset in zip(free, before, strict=True)]


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _words(limits: LimitFacts, readings: Sequence[int], replaced: Sequence[int], word: Shown | None, unit: Unit) -> str:
    low = None if limits.low_nm is None else shown(limits.low_nm, unit)
    high = None if limits.high_nm is None else shown(limits.high_nm, unit)
    nominal = None if limits.nominal_nm is None else shown(limits.nominal_nm, unit)
    if low is not None and high is not None:
        said = [f"{low} to {high} {unit}"]
    elif high is not None:
        said = [f"at most {high} {unit}"]
    elif low is not None:
        said = [f"at least {low} {unit}"]
    else:
        said = ["for reference" if nominal is None else f"{nominal} {unit} for reference"]
    if readings:
        verdict = "" if word is None else f", {word}"
        said.append(f"measured {shown(readings[-1], unit)}{verdict}")
    else:
        said.append("not measured")
    if readings[:-1]:
        said.append("before that " + ", ".join(shown(nm, unit) for nm in readings[:-1]))
    if replaced:
        said.append("replaced " + ", ".join(shown(nm, unit) for nm in replaced))
    return "; ".join(said)
