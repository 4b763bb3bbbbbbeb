"""Windows and the ways out of an empty one, by hand and by law."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.trade.chains import Drawn, Measured, Member, worst_case
from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.limits import Cutting
from server.trade.ways_out import Recut, Way, ways_out
from server.trade.windows import Demand, Unmade, Window, fit, target_nm, window

MM = 1_000_000


def ends(found: Window) -> tuple[int | None, int | None]:
    return (found.low and found.low.size_nm, found.high and found.high.size_nm)  # type: ignore[return-value]


def test_bearing_is_cut_under_the_slot_as_measured() -> None:
    """By hand: slot 31.782 ± 0.004, clearance 0.04 to 0.06, own limits 31.70 to 31.75, its own reading ± 0.002."""
    bearing = Unmade("bearing", 31_700_000, 31_750_000, "smaller", 2_000)
    slot = Measured("slot of CR-2", 1, 31_782_000, 4_000)
    found = window(bearing, [fit("running fit", slot, 40_000, 60_000, "shaft")])
    assert ends(found) == (31_728_000, 31_736_000)
    assert found.low is not None
    assert found.high is not None
    assert (found.low.reason.source, found.low.reason.limit, found.low.reason.limit_nm) == (
        "running fit",
        "high",
        60_000,
    )
    assert found.low.reason.rest_nm == 31_782_000
    assert found.low.reason.guard_nm == 6_000
    assert found.low.reason.measured == ("slot of CR-2",)
    assert (found.high.reason.limit, found.high.reason.drawn) == ("low", ())
    assert found.width_nm == 8_000
    assert target_nm(found, "smaller") == 31_732_000
    assert target_nm(found, "smaller", 0.5) == 31_734_000
    assert target_nm(found, "larger", 0.5) == 31_730_000
    assert target_nm(found, "neither", 0.5) == 31_732_000
    assert target_nm(found, "larger", 1) == 31_728_000


def test_own_limits_alone_are_guarded() -> None:
    found = window(Unmade("a", 0, 100, "smaller", 10, "m", 5))
    assert ends(found) == (15, 85)
    assert found.low is not None
    assert found.low.reason.source == "own limits"


def test_one_gauge_for_slot_and_bearing_costs_no_guard() -> None:
    slot = Measured("slot", 1, 31_782_000, gauge="micrometer", u_gauge_nm=4_000)
    alike = Unmade("bearing", None, None, "smaller", gauge="micrometer", u_gauge_nm=4_000)
    other = replace(alike, gauge="caliper")
    demand = fit("f", slot, 40_000, 60_000, "shaft")
    assert ends(window(alike, [demand])) == (31_722_000, 31_742_000)
    assert ends(window(other, [demand])) == (31_730_000, 31_734_000)


def test_limits_narrower_than_the_rest_leave_no_window() -> None:
    """Computed: the total 0.08 wide, the rest already 0.10: short by 0.02."""
    rest = Drawn("rest", 1, 59_950_000, 60_050_000)
    found = window(Unmade("a", None, None, "neither"), [Demand("gap", -1, 50_000, 130_000, (rest,))])
    assert not found.is_open
    assert found.width_nm == -20_000
    assert found.short_nm == 20_000
    with pytest.raises(Impossible) as told:
        target_nm(found, "neither")
    assert told.value.field == "window"


def test_open_ends() -> None:
    hole = Unmade("hole", None, None, "larger")
    assert ends(window(hole)) == (None, None)
    with pytest.raises(Impossible):
        target_nm(window(hole), "larger")
    found = window(hole, [fit("f", Measured("pin", 1, 10_000_000), 20_000, None, "hole")])
    assert ends(found) == (10_020_000, None)
    assert found.width_nm is None
    assert found.holds(11_000_000)
    assert target_nm(found, "larger") == 10_020_000


@st.composite
def cases(draw: st.DrawFn) -> tuple[Unmade, list[Demand]]:
    own_low = draw(st.one_of(st.none(), st.integers(-200, 50)))
    own_high = None if own_low is None else own_low + draw(st.integers(0, 400))
    cuttings: list[Cutting] = ["smaller", "larger", "neither"]
    unmade = Unmade("x", own_low, own_high, draw(st.sampled_from(cuttings)), draw(st.integers(0, 8)))
    demands = []
    for i in range(draw(st.integers(1, 3))):
        others: list[Member] = []
        for j in range(draw(st.integers(1, 3))):
            a = draw(st.sampled_from([1, -1]))
            size = draw(st.integers(-300, 300))
            if draw(st.booleans()):
                others.append(Measured(f"m{i}{j}", a, size, draw(st.integers(0, 20))))
            else:
                others.append(Drawn(f"d{i}{j}", a, size, size + draw(st.integers(0, 60))))
        a = draw(st.sampled_from([1, -1, 2]))
        rest = worst_case(others)
        low = min(
            rest.low_nm - draw(st.integers(-80, 300)), rest.high_nm
        )  # about where a size near nothing would just do
        demands.append(Demand(f"chain {i}", a, low, rest.high_nm + draw(st.integers(0, 300)), tuple(others)))
    return unmade, demands


@given(cases(), st.integers(0, 100))
def test_no_window_holds_a_size_that_a_chain_forbids(case: tuple[Unmade, list[Demand]], share: int) -> None:
    unmade, demands = case
    found = window(unmade, demands)
    assume(found.is_open and found.low is not None and found.high is not None)
    assert found.low is not None
    assert found.high is not None
    size = found.low.size_nm + (found.high.size_nm - found.low.size_nm) * share // 100
    assert found.holds(size)
    true_sizes = (size - unmade.u_expanded_nm, size + unmade.u_expanded_nm)
    for true in true_sizes:
        assert unmade.low_nm is None or true >= unmade.low_nm
        assert unmade.high_nm is None or true <= unmade.high_nm
    for demand in demands:
        corners = itertools.product(
            true_sizes,
            *(
                (each.low_nm, each.high_nm)
                if isinstance(each, Drawn)
                else (each.size_nm - each.u_expanded_nm, each.size_nm + each.u_expanded_nm)
                for each in demand.others
            ),
        )
        for true, *rest in corners:
            total = demand.coefficient * true + sum(
                each.coefficient * value for each, value in zip(demand.others, rest, strict=True)
            )
            assert demand.low_nm is not None
            assert demand.high_nm is not None
            assert demand.low_nm <= total <= demand.high_nm


@given(cases())
def test_a_size_just_outside_the_window_can_go_wrong(case: tuple[Unmade, list[Demand]]) -> None:
    unmade, demands = case
    found = window(unmade, demands)
    assume(found.is_open)
    for end, step in ((found.low, -1), (found.high, 1)):
        if end is None:
            continue
        size = end.size_nm + step
        itself = Measured("x", 1, size, unmade.u_expanded_nm)
        own = worst_case([itself])
        wrong = (unmade.low_nm is not None and own.low_nm < unmade.low_nm) or (
            unmade.high_nm is not None and own.high_nm > unmade.high_nm
        )
        for demand in demands:
            total = worst_case([replace(itself, coefficient=demand.coefficient), *demand.others])
            wrong |= demand.low_nm is not None and total.low_nm < demand.low_nm
            wrong |= demand.high_nm is not None and total.high_nm > demand.high_nm
        assert wrong


def applied(way: Way, unmade: Unmade, demands: list[Demand], by_nm: int) -> tuple[Unmade, list[Demand]]:
    """The case with a way gone, by so much."""

    def changed(member: Member) -> Member:
        if member.name != way.name:
            return member
        if isinstance(member, Drawn):
            if way.what == "low":
                return replace(member, low_nm=member.low_nm + by_nm)
            return replace(member, high_nm=member.high_nm - by_nm)
        if way.what == "uncertainty":
            return replace(member, u_expanded_nm=member.u_expanded_nm - by_nm)
        return replace(member, size_nm=member.size_nm + (by_nm if way.to_nm > member.size_nm else -by_nm))

    if way.kind == "give way":
        step = -by_nm if way.what == "low" else by_nm
        field = f"{way.what}_nm"
        if way.name == "own limits":
            return replace(unmade, **{field: getattr(unmade, field) + step}), demands  # type: ignore[arg-type]
        return unmade, [
            replace(each, **{field: getattr(each, field) + step}) if each.name == way.name else each  # type: ignore[arg-type]
            for each in demands
        ]
    if way.name == unmade.name:
        return replace(unmade, u_expanded_nm=unmade.u_expanded_nm - by_nm), demands
    return unmade, [replace(each, others=tuple(changed(member) for member in each.others)) for each in demands]


@given(cases())
def test_every_way_out_opens_the_window_and_one_nanometre_less_does_not(case: tuple[Unmade, list[Demand]]) -> None:
    unmade, demands = case
    assume(not window(unmade, demands).is_open)
    demands = [replace(each, coefficient=1 if each.coefficient == 2 else each.coefficient) for each in demands]
    assume(not window(unmade, demands).is_open)
    recuts = [Recut(each.name, "smaller") for demand in demands for each in demand.others if isinstance(each, Measured)]
    for way in ways_out(unmade, demands, recuts):
        assert window(*applied(way, unmade, demands, way.by_nm)).is_open
        assert not window(*applied(way, unmade, demands, way.by_nm - 1)).is_open


def test_ways_out_are_told_cheapest_first() -> None:
    """By hand: a spacer between a measured slot (10.00 ± 0.01, can be opened to 10.10) and a washer not made yet
    (1.00 to 1.06): end play wanted 0.02 to 0.06, so spacer = slot − washer − play. Without guard the rest is 0.06 wide
    and the limits 0.04; with the slot's ± 0.01 it is short by 0.04."""
    slot, washer = Measured("slot", 1, 10_000_000, 10_000), Drawn("washer", -1, 1_000_000, 1_060_000)
    spacer = Unmade("spacer", None, None, "smaller")
    play = Demand("end play", -1, 20_000, 60_000, (slot, washer))
    assert window(spacer, [play]).short_nm == 40_000
    ways = ways_out(spacer, [play], [Recut("slot", "larger", 10_100_000)])
    assert [(each.kind, each.name, each.what, each.by_nm) for each in ways] == [
        ("hold closer", "washer", "high", 40_000),
        ("hold closer", "washer", "low", 40_000),
        ("give way", "end play", "high", 40_000),
        ("give way", "end play", "low", 40_000),
    ]
    assert [each.to_nm for each in ways] == [1_020_000, 1_040_000, 100_000, -20_000]


def test_a_mate_is_cut_again_only_as_far_as_its_own_limit() -> None:
    """By hand: bearing 30.02 wide at least, slot 30.00 as measured, clearance 0 or more: the slot is opened by 0.02."""
    bearing = Unmade("bearing", 30_020_000, 30_050_000, "smaller")
    slot = Measured("slot", 1, 30_000_000)
    demand = fit("f", slot, 0, 40_000, "shaft")
    assert ways_out(bearing, [demand], [Recut("slot", "larger", 30_030_000)])[0] == Way(
        "cut again", "slot", "size", 20_000, 30_020_000
    )
    for recut in (Recut("slot", "larger", 30_010_000), Recut("slot", "smaller")):
        assert {each.kind for each in ways_out(bearing, [demand], [recut])} == {"give way"}
    assert ways_out(bearing, [demand], room_nm=10_000)[0].by_nm == 30_000


def test_an_open_window_needs_no_way_out() -> None:
    assert ways_out(Unmade("a", 0, 10, "smaller"), []) == ()


def test_two_faults_at_once_have_no_single_way_out() -> None:
    at = [Demand(f"chain {i}", 1, 0, 0, (Measured(f"m{i}", -1, 100 * i),)) for i in range(3)]
    assert ways_out(Unmade("a", None, None, "smaller"), at) == ()


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("cutting", Unreadable, lambda: Unmade("a", 0, 1, "longer")),  # type: ignore[arg-type]
        ("low_nm", Impossible, lambda: Unmade("a", 2, 1, "smaller")),
        ("u_expanded_nm", OutOfRange, lambda: Unmade("a", 0, 1, "smaller", -1)),
        ("others", Impossible, lambda: Demand("c", 1, 0, 1, ())),
        ("low_nm", Impossible, lambda: Demand("c", 1, None, None, (Drawn("d", 1, 0, 1),))),
        ("low_nm", Impossible, lambda: Demand("c", 1, 2, 1, (Drawn("d", 1, 0, 1),))),
        ("coefficient", OutOfRange, lambda: Demand("c", 0, 0, 1, (Drawn("d", 1, 0, 1),))),
        ("lean", OutOfRange, lambda: target_nm(window(Unmade("a", 0, 1, "smaller")), "smaller", 2)),
        ("room_nm", OutOfRange, lambda: ways_out(Unmade("a", 0, 1, "smaller"), [], room_nm=-1)),
        ("cutting", Unreadable, lambda: Recut("a", "neither")),  # type: ignore[arg-type]
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
