"""Lengths as typed, read exactly and written again."""

from __future__ import annotations

from contextlib import suppress
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange, TradeError, Unreadable
from server.trade.length import (
    LONGEST_NM,
    NM_PER_IN,
    NM_PER_MM,
    Unit,
    format_length,
    format_signed,
    parse_length,
    plain_signs,
    read_length,
)

units = st.sampled_from(["mm", "in"])
lengths = st.integers(min_value=-LONGEST_NM, max_value=LONGEST_NM)

ACCEPTED: list[tuple[str, Unit, int]] = [
    ("12.7", "mm", 12_700_000),
    ("12.7mm", "mm", 12_700_000),
    ("12.7 mm", "in", 12_700_000),
    ("12.7 MM", "in", 12_700_000),
    ("12.7 millimetres", "in", 12_700_000),
    ("12,7", "mm", 12_700_000),
    ("12.", "mm", 12_000_000),
    (" 12 ", "mm", 12_000_000),
    ("0", "mm", 0),
    ("0.5in", "mm", 12_700_000),
    ("0.5 in.", "mm", 12_700_000),
    ("0.5 inch", "mm", 12_700_000),
    ("2 inches", "mm", 50_800_000),
    ('1/2"', "mm", 12_700_000),
    ("1/2''", "mm", 12_700_000),
    ("1/2″", "mm", 12_700_000),
    ("1/2”", "mm", 12_700_000),
    ("1/2′′", "mm", 12_700_000),
    ("1/2", "mm", 500_000),
    ("1/2", "in", 12_700_000),
    ("1 / 2", "in", 12_700_000),
    ("1⁄2", "in", 12_700_000),
    ("½", "mm", 500_000),
    ('½"', "mm", 12_700_000),
    ('1½"', "mm", 38_100_000),
    ("1 ½", "in", 38_100_000),
    ("1-½", "in", 38_100_000),
    ("⅞ in", "mm", 22_225_000),
    ("1 3/16", "in", 30_162_500),
    ("1-3/16 in", "mm", 30_162_500),
    ("1–3/16 in", "mm", 30_162_500),  # an en dash, as a word processor makes it
    ("-1 3/16", "in", -30_162_500),
    ("1\u00a03/16", "in", 30_162_500),  # a non-breaking space
    ("12.7\u2009mm", "mm", 12_700_000),  # a thin space
    ("12.7\u202fmm", "mm", 12_700_000),  # a narrow non-breaking space
    (".250", "in", 6_350_000),
    (",5", "mm", 500_000),
    ("+.250", "in", 6_350_000),
    ("-0.03", "mm", -30_000),
    ("−0.03", "mm", -30_000),
    ("– 0.03", "mm", -30_000),
    ("2 thou", "mm", 50_800),
    ("+2 thou", "in", 50_800),
    ("2thou", "in", 50_800),
    ("0.5 thou", "in", 12_700),
    ("1/2 thou", "in", 12_700),
    ("½ thou", "in", 12_700),
    ("5 tenths", "in", 12_700),
    ("1 tenth", "in", 2_540),
    ("15 µm", "mm", 15_000),  # the micro sign
    ("15 μm", "mm", 15_000),  # the Greek letter
    ("15 um", "mm", 15_000),
    ("15 µm", "in", 15_000),
    ("1 micron", "mm", 1_000),
    ("15 microns", "mm", 15_000),
    ("15 micrometres", "mm", 15_000),
    ("0.0000005", "mm", 0),  # half a nanometre goes to the even one
    ("0.0000015", "mm", 2),
    ("0.0000025", "mm", 2),
    ("1/3", "mm", 333_333),
    ("1000000", "mm", LONGEST_NM),
    ("-1000000", "mm", -LONGEST_NM),
]


@pytest.mark.parametrize(("text", "unit", "nm"), ACCEPTED)
def test_a_length_is_read_exactly(text: str, unit: Unit, nm: int) -> None:
    assert parse_length(text, unit) == nm


REFUSED: list[tuple[str, Unit, str]] = [
    ("", "mm", "nothing was typed"),
    ("  ", "mm", "nothing was typed"),
    ("-", "mm", "a sign '-' without a number"),
    ("--5", "mm", "two signs"),
    ("+-5", "mm", "two signs"),
    ("thirty", "mm", "'thirty' is not a number"),
    ("nan", "mm", "'nan' is not a number"),
    ("inf", "mm", "'inf' is not a number"),
    ("mm", "mm", "'mm' is not a number"),
    (".", "mm", "'.' is not a number"),
    ("1e5", "mm", "'1e5' is written with an exponent"),
    ("1.5E-3 mm", "mm", "'1.5e-3 mm' is written with an exponent"),
    ("1.234,5", "mm", "'1.234,5' has both a point and a comma"),
    ("1,234.5", "in", "'1,234.5' has both a point and a comma"),
    ("1.2.3", "mm", "'1.2.3' has more than one decimal mark"),
    ("1,234,567", "mm", "more than one decimal mark"),
    ("1/0", "mm", "'1/0' divides by zero"),
    ('1 1/0"', "mm", "'1 1/0' divides by zero"),
    ("1.5/2", "mm", "'1.5/2' mixes a decimal with a fraction"),
    ("1.5 1/2", "in", "'1.5 1/2' mixes a decimal with a fraction"),
    ("1.5½", "in", "'1.5 1/2' mixes a decimal with a fraction"),
    ("1/", "in", "'/' after '1' is not understood"),
    ("1/2/3", "in", "'/3' after '1/2' is not understood"),
    ("25 30", "mm", "'30' after '25' is not understood; one number is wanted"),
    ("25 -3", "mm", "'-3' after '25' is not understood"),
    ("1 -3/16", "in", "'-3/16' after '1' is not understood"),
    ("5 tenths", "mm", "tenths reads two ways in millimetre work"),
    ("25 cm", "mm", "centimetres are not accepted, millimetres and inches are"),
    ("1 m", "mm", "metres are not accepted"),
    ("1 ft", "in", "feet are not accepted"),
    ("1'", "in", "feet are not accepted"),
    ("3 mil", "in", "mils (a thousandth of an inch or a millimetre?) are not accepted"),
    ("12 furlongs", "mm", "'furlongs' is not a unit of length used here"),
    ("12 mm mm", "mm", "'mm mm' is not a unit"),
    ("0x10", "mm", "'x10' is not a unit"),
    ("1_000", "mm", "'_000' is not a unit"),
    ("٣", "mm", "'٣' is not a number"),
    ("9" * 5000, "mm", "5000 characters are too many"),
]


@pytest.mark.parametrize(("text", "unit", "why"), REFUSED)
def test_what_cannot_be_read_is_named(text: str, unit: Unit, why: str) -> None:
    with pytest.raises(Unreadable) as refusal:
        parse_length(text, unit, field="depth")
    assert why in refusal.value.why
    assert refusal.value.field == "depth"
    assert refusal.value.read.rstrip("…") in text
    assert "12.7" in refusal.value.accepts


@pytest.mark.parametrize("text", ["1000000.000001", "-1000001", "9" * 70])
def test_a_length_beyond_a_kilometre_is_a_slip_of_the_keys(text: str) -> None:
    with pytest.raises(OutOfRange, match="longer than 1 km"):
        parse_length(text, "mm")


def test_an_unknown_unit_is_an_error_and_not_a_guess() -> None:
    with pytest.raises(Unreadable, match="'cm' is not a unit"):
        parse_length("1", "cm")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "mark"),
    [("1", ""), ("1 mm", "mm"), ('1"', "in"), ("1 thou", "thou"), ("1 tenth", "tenths"), ("1um", "µm")],
)
def test_the_unit_written_is_told(text: str, mark: str) -> None:
    assert read_length(text, "in")[1] == mark


def test_typographic_signs_are_made_plain() -> None:
    assert plain_signs(" −1½″ ± ⅛″ ") == '-1 1/2" ± 1/8"'


@pytest.mark.parametrize(
    ("nm", "unit", "decimals", "text"),
    [
        (12_700_000, "mm", None, "12.7"),
        (12_700_000, "in", None, "0.5"),
        (12_000_000, "mm", None, "12"),
        (120_000_000, "mm", None, "120"),
        (0, "mm", None, "0"),
        (0, "in", 3, "0.000"),
        (1, "mm", None, "0.000001"),
        (1, "in", None, "0"),
        (-1, "in", None, "0"),
        (-30_000, "mm", None, "-0.03"),
        (-30_000, "mm", 3, "-0.030"),
        (-400, "mm", 3, "0.000"),
        (12_500, "mm", 3, "0.012"),
        (13_500, "mm", 3, "0.014"),
        (500_000, "mm", 0, "0"),
        (1_500_000, "mm", 0, "2"),
        (30_162_500, "in", None, "1.1875"),
        (30_162_500, "in", 3, "1.188"),
        (25_400_000, "mm", 9, "25.400000000"),
    ],
)
def test_a_length_is_written(nm: int, unit: Unit, decimals: int | None, text: str) -> None:
    assert format_length(nm, unit, decimals) == text


@pytest.mark.parametrize(
    ("nm", "unit", "decimals", "text"),
    [
        (21_000, "mm", None, "+0.021"),
        (-13_000, "mm", None, "−0.013"),
        (0, "mm", None, "0"),
        (0, "mm", 3, "0.000"),
        (-1, "mm", 3, "0.000"),
        (50_800, "in", 4, "+0.0020"),
        (10_000_000, "mm", None, "+10"),
    ],
)
def test_a_deviation_carries_its_sign(nm: int, unit: Unit, decimals: int | None, text: str) -> None:
    assert format_signed(nm, unit, decimals) == text


@pytest.mark.parametrize("decimals", [-1, 10])
def test_decimals_that_cannot_be_written_are_refused(decimals: int) -> None:
    with pytest.raises(OutOfRange, match="0 to 9 decimals"):
        format_length(1, "mm", decimals)


@given(lengths)
def test_every_nanometre_survives_being_written_in_millimetres(nm: int) -> None:
    assert parse_length(format_length(nm, "mm"), "mm") == nm
    assert parse_length(format_signed(nm, "mm"), "mm") == nm


@given(st.integers(-39_000, 39_000), st.integers(0, 5))
def test_an_inch_decimal_survives_being_written_again(figure: int, places: int) -> None:
    nm = (
        figure * NM_PER_IN // 10**places
    )  # up to five decimals of an inch are whole nanometres: 25,400,000 = 254 × 10^5
    assert parse_length(format_length(nm, "in"), "in") == nm


@given(lengths, units, st.integers(0, 6))
def test_writing_rounds_as_decimal_arithmetic_does(nm: int, unit: Unit, decimals: int) -> None:
    # Decimal's 28 digits are plenty: a length has at most 15, and the nearest an inch quotient comes to a tie without
    # being one is a part in 50.8 million.
    exact = Decimal(nm) / (NM_PER_IN if unit == "in" else NM_PER_MM)
    expected = exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    assert Decimal(format_length(nm, unit, decimals)) == expected


@given(st.integers(0, 1_000), st.integers(0, 127), st.sampled_from([2, 4, 8, 16, 32, 64, 128]))
def test_an_inch_fraction_is_exact_down_to_64ths(whole: int, above: int, below: int) -> None:
    # 25,400,000 divides by 64; a 128th is the first that can end in half a nanometre
    off_by = below * parse_length(f'{whole} {above}/{below}"') - (whole * below + above) * NM_PER_IN
    assert off_by == 0 if below <= 64 else 2 * abs(off_by) <= below


@given(st.integers(-1_000_000, 1_000_000))
def test_thou_inches_and_millimetres_agree(tenths: int) -> None:
    nm = tenths * 2_540
    sign, thou, part = ("-" if tenths < 0 else ""), abs(tenths) // 10, abs(tenths) % 10
    assert parse_length(f"{sign}{thou}.{part} thou") == nm
    assert parse_length(f"{tenths} tenths", "in") == nm
    assert parse_length(format_length(nm, "in") + " in", "mm") == nm
    assert parse_length(format_length(nm, "mm") + " mm", "in") == nm


@given(st.text(max_size=30) | st.text(alphabet="0123456789.,/-+ ½\"'minthoue", max_size=14), units)
def test_any_text_is_a_length_or_a_trade_error(text: str, unit: Unit) -> None:
    with suppress(TradeError):
        assert abs(parse_length(text, unit)) <= LONGEST_NM
