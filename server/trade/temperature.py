"""What warmth does to a size, and how to take it out of a reading.

Sizes on drawings hold at 20 °C unless the drawing says otherwise: ISO 1:2022 (and ISO 1:2016 before it; both titles
found, the value 20 °C found). Everything here is linear expansion about 20 °C.

| assumption | |
|---|---|
| the piece, and the gauge, have each one temperature throughout | wait until they have |
| one mean coefficient serves from -10 to 60 °C | its change over that span is far inside the ranges tabled below |
| the coefficient in the table is for the name, not for the bar | hence a half-width with every coefficient |
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from server.trade.errors import Unreadable
from server.trade.within import within

REFERENCE_C: Final = 20.0
LEAST_C: Final = -10.0
GREATEST_C: Final = 60.0
GREATEST_PER_C: Final = 300e-6  # plastics included; a figure such as 11.5 instead of 11.5e-6 is caught

_ENGINEERING_TABLE = "Callister, Fundamentals of Materials Science and Engineering, 3rd ed., table B.6 (found)"
_HANDBOOK_20_100 = "metal handbook table 1-10, mean coefficient 20-100 °C (found)"


@dataclass(frozen=True, slots=True)
class Expansion:
    """How much a material grows.

    per_c             mean coefficient of linear expansion near 20 °C [1/°C]
    half_width_per_c  the true coefficient of a bar sold under this name is taken to lie within ± this [1/°C]
    source            where the figures were read, with their standing
    """

    material: str
    per_c: float
    half_width_per_c: float
    source: str


def _row(material: str, millionths: float, half_width: float, source: str) -> Expansion:
    return Expansion(material, millionths * 1e-6, half_width * 1e-6, source)


EXPANSIONS: Final[dict[str, Expansion]] = {
    row.material: row
    for row in (
        _row("gauge steel", 11.5, 1.0, "ISO 3650 as quoted beside GUM H.1 (found), for steel gauge blocks"),
        _row("carbon steel", 11.5, 1.0, f"{_HANDBOOK_20_100}: 10.6 to 12.2; mild steel 11.7 (found)"),
        _row("tool steel", 11.2, 1.2, "public material tables, 10.1 to 12.2 by grade (found)"),
        _row("stainless steel, austenitic", 16.5, 1.0, f"{_HANDBOOK_20_100}: 16.6; 16 in another (found)"),
        _row("stainless steel, martensitic", 10.2, 0.6, f"{_HANDBOOK_20_100}: 10.2; a 440C 10.2 (found)"),
        _row("cast iron, grey", 10.0, 1.5, f"{_HANDBOOK_20_100}: 8.7 to 11.1; Dooley 5.56e-6/°F = 10.0 (found)"),
        _row("cast iron, ductile", 10.9, 0.8, f"{_ENGINEERING_TABLE}: 10.6 to 11.2"),
        _row("aluminium alloy", 23.3, 0.8, f"{_ENGINEERING_TABLE}: wrought alloys 22.9 to 23.6; 23.9 elsewhere"),
        _row("brass", 19.3, 1.6, f"{_ENGINEERING_TABLE}: 19.9 and 20.5; 17.8 in {_HANDBOOK_20_100}"),
        _row("bronze", 17.0, 2.0, f"{_ENGINEERING_TABLE}: bearing bronze 18.0; phosphor bronze 15.2 (found)"),
        _row("copper", 17.0, 0.6, f"{_ENGINEERING_TABLE}: 17.0; {_HANDBOOK_20_100}: 16.6 to 17.2"),
        _row("titanium alloy", 8.6, 0.5, f"{_ENGINEERING_TABLE}: 8.6"),
        _row("tungsten carbide", 5.5, 1.0, "public material tables, 4.5 to 6 (found)"),
        _row("zirconia ceramic", 9.5, 1.0, "from memory"),
        _row("granite", 6.5, 2.0, "from memory; differs by quarry"),
    )
}


def expansion_of(material: str) -> Expansion:
    """The tabled expansion of `material`. Raises Unreadable with the names that are known."""
    try:
        return EXPANSIONS[material.strip().casefold()]
    except KeyError:
        raise Unreadable("material", material, "no expansion is tabled for it", "; ".join(EXPANSIONS)) from None


def c_from_f(temperature_f: float) -> float:
    """A temperature [°C] from one in [°F]; exact by definition (32 °F = 0 °C, 9 °F = 5 °C)."""
    return (within("temperature_f", temperature_f, unit="°F") - 32.0) * 5.0 / 9.0


def per_c_from_per_f(per_f: float) -> float:
    """A coefficient of expansion [1/°C] from one in [1/°F]. 6.4e-6 per °F is 11.5e-6 per °C: never mix the two."""
    return within("per_f", per_f, 0.0, GREATEST_PER_C / 1.8, "per °F") * 1.8


def growth(per_c: float, temperature_c: float, *, field: str = "temperature_c") -> float:
    """The factor 1 + α(t − 20) by which a size at 20 °C is multiplied at `temperature_c` [-].

    per_c [1/°C], 0 to 300e-6; temperature_c [°C], -10 to 60. Raises OutOfRange.
    """
    within("per_c", per_c, 0.0, GREATEST_PER_C, "per °C (steel is 0.0000115)")
    return 1.0 + per_c * (within(field, temperature_c, LEAST_C, GREATEST_C, "°C") - REFERENCE_C)


def size_at_reference_nm(size_nm: int, temperature_c: float, per_c: float) -> int:
    """The size at 20 °C [nm] of a piece that truly is `size_nm` [nm] at `temperature_c` [°C].

    per_c [1/°C]. Nearest nanometre. For a reading taken with a gauge that is warm too, see `corrected_reading_nm`.
    """
    return round(size_nm / growth(per_c, temperature_c))


def size_at_temperature_nm(size_at_reference_nm: int, temperature_c: float, per_c: float) -> int:
    """The size at `temperature_c` [°C] of a piece that is `size_at_reference_nm` [nm] at 20 °C; [nm], nearest."""
    return round(size_at_reference_nm * growth(per_c, temperature_c))


def corrected_reading_nm(
    reading_nm: int, *, part_c: float, part_per_c: float, gauge_c: float, gauge_per_c: float
) -> int:
    """The size at 20 °C [nm] of a part, from what a gauge read.

    reading_nm    what the gauge showed [nm]; the gauge is right at 20 °C
    part_c, gauge_c          their temperatures [°C], -10 to 60
    part_per_c, gauge_per_c  their coefficients of expansion [1/°C]

    L20 = R (1 + αg(tg − 20)) / (1 + αp(tp − 20)): a gauge that has grown with the part corrects itself; with the same
    coefficient and temperature nothing is left to correct. JCGM 100:2008 H.1.2, equation H.1 (from memory), solved
    for the part. Raises OutOfRange.
    """
    gauge = growth(gauge_per_c, gauge_c, field="gauge_c")
    return round(reading_nm * gauge / growth(part_per_c, part_c, field="part_c"))


def expected_reading_nm(
    size_at_reference_nm: int, *, part_c: float, part_per_c: float, gauge_c: float, gauge_per_c: float
) -> int:
    """What the gauge will show [nm] when the part is `size_at_reference_nm` [nm] at 20 °C: the size to cut a warm part
    to. The inverse of `corrected_reading_nm`, with the same arguments and range."""
    part = growth(part_per_c, part_c, field="part_c")
    return round(size_at_reference_nm * part / growth(gauge_per_c, gauge_c, field="gauge_c"))
