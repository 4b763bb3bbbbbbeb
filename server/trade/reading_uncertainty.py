"""The budget of one reading in a shop: the gauge, its scale, the repeats, the warmth and the tilt.

The model is that of JCGM 100:2008 (GUM) annex H.1 (from memory), where a part is compared with a standard of known
size; a micrometer or a read-out is such a standard, being its own scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from server.trade.bounds import positive_length
from server.trade.repeats import t_quantile
from server.trade.temperature import GREATEST_C, GREATEST_PER_C, LEAST_C, REFERENCE_C, Expansion
from server.trade.uncertainty import BudgetLine, Combined, combine, rectangular, repeatability, resolution
from server.trade.within import within


@dataclass(frozen=True, slots=True)
class Warmth:
    """What is known of the warmth of a part and of the gauge or standard it is measured with.

    standard_per_c    expansion of the gauge or standard αs [1/°C], with its standard uncertainty u_standard_per_c
    difference_per_c  expansion of the part less that of the standard δα [1/°C], u_difference_per_c, its dof
    part_above_c      temperature of the part less 20 °C, θ [°C], u_part_above_c
    difference_c      temperature of the part less that of the standard δθ [°C], u_difference_c, its dof
    """

    standard_per_c: float
    u_standard_per_c: float
    difference_per_c: float
    u_difference_per_c: float
    part_above_c: float
    u_part_above_c: float
    difference_c: float
    u_difference_c: float
    difference_per_c_dof: float = math.inf
    difference_c_dof: float = math.inf

    def __post_init__(self) -> None:
        per_c = "per °C (steel is 0.0000115)"
        within("standard_per_c", self.standard_per_c, 0.0, GREATEST_PER_C, per_c)
        within("difference_per_c", self.difference_per_c, -GREATEST_PER_C, GREATEST_PER_C, per_c)
        within("part_above_c", self.part_above_c, LEAST_C - REFERENCE_C, GREATEST_C - REFERENCE_C, "°C from 20 °C")
        within("difference_c", self.difference_c, -40.0, 40.0, "°C")
        for field in ("u_standard_per_c", "u_difference_per_c"):
            within(field, getattr(self, field), 0.0, GREATEST_PER_C, per_c)
        for field in ("u_part_above_c", "u_difference_c"):
            within(field, getattr(self, field), 0.0, 40.0, "°C")


def warmth(
    part: Expansion,
    gauge: Expansion,
    *,
    part_c: float,
    temperature_half_width_c: float,
    gauge_c: float | None = None,
    difference_half_width_c: float = 0.0,
) -> Warmth:
    """The warmth of a part and gauge of known materials.

    part_c, gauge_c           temperatures [°C]; the gauge's is taken to be the part's where not given
    temperature_half_width_c  the thermometer, and the room since it was read, lie within ± this [°C]
    difference_half_width_c   part and gauge differ from what was given by up to ± this [°C]
    Half-widths are taken as rectangular (u = a/√3). The two materials' coefficients are taken as independent, also
    where they carry one name: two bars of steel need not be alike.
    """
    within("part_c", part_c, LEAST_C, GREATEST_C, "°C")
    gauge_c = part_c if gauge_c is None else within("gauge_c", gauge_c, LEAST_C, GREATEST_C, "°C")
    root3 = math.sqrt(3)
    return Warmth(
        standard_per_c=gauge.per_c,
        u_standard_per_c=gauge.half_width_per_c / root3,
        difference_per_c=part.per_c - gauge.per_c,
        u_difference_per_c=math.hypot(part.half_width_per_c, gauge.half_width_per_c) / root3,
        part_above_c=part_c - REFERENCE_C,
        u_part_above_c=within("temperature_half_width_c", temperature_half_width_c, 0.0, 40.0, "°C") / root3,
        difference_c=part_c - gauge_c,
        u_difference_c=within("difference_half_width_c", difference_half_width_c, 0.0, 40.0, "°C") / root3,
    )


def thermal_correction_nm(length_nm: float, at: Warmth) -> float:
    """What to add to a size read warm to have it at 20 °C [nm]: −L(δα θ + αs δθ), GUM H.1.2 equation H.2, first order.

    `temperature.corrected_reading_nm` is exact; they differ by L times the square of the growth, under 1 nm in 100 mm
    for steel 5 °C warm.
    """
    return -length_nm * (at.difference_per_c * at.part_above_c + at.standard_per_c * at.difference_c)


def thermal_lines(length_nm: float, at: Warmth, *, second_order: bool = True) -> tuple[BudgetLine, ...]:
    """The budget lines of warmth in a size of `length_nm` [nm].

    First order, GUM H.1.3: L θ u(δα), L δα u(θ), L δθ u(αs), L αs u(δθ). Second order, GUM H.1.7: L u(δα) u(θ) and
    L u(αs) u(δθ); without them a shop said to be at 20 °C ± 3 °C would seem to have no doubt about a bar's expansion.
    """
    size = abs(length_nm)
    lines = [
        BudgetLine(
            "expansion of part against gauge",
            size * abs(at.part_above_c) * at.u_difference_per_c,
            at.difference_per_c_dof,
            f"{at.part_above_c:+.3g} °C from 20 °C",
        ),
        BudgetLine(
            "temperature", size * abs(at.difference_per_c) * at.u_part_above_c, how=f"u {at.u_part_above_c:.2g} °C"
        ),
        BudgetLine("expansion of gauge", size * abs(at.difference_c) * at.u_standard_per_c),
        BudgetLine(
            "part warmer or colder than gauge",
            size * at.standard_per_c * at.u_difference_c,
            at.difference_c_dof,
            f"u {at.u_difference_c:.2g} °C",
        ),
    ]
    if second_order:
        lines += [
            BudgetLine("expansion with temperature, second order", size * at.u_difference_per_c * at.u_part_above_c),
            BudgetLine("gauge with difference, second order", size * at.u_standard_per_c * at.u_difference_c),
        ]
    return tuple(lines)


def tilt_error_nm(length_nm: float, greatest_tilt_deg: float) -> float:
    """How much too long `length_nm` [nm] reads along a line `greatest_tilt_deg` [°] askew, 0 to 20; L(1 − cos φ)."""
    tilt = math.radians(within("greatest_tilt_deg", greatest_tilt_deg, 0.0, 20.0, "°"))
    return abs(length_nm) * 2.0 * math.sin(tilt / 2) ** 2  # 1 − cos φ, without losing small angles


def tilt_line(length_nm: float, greatest_tilt_deg: float) -> BudgetLine:
    """The doubt left by measuring along a line up to `greatest_tilt_deg` [°] from the right one, 0 to 20.

    The reading is long by L(1 − cos φ), never short; e is that at the greatest tilt. With every tilt up to it alike,
    the root mean square of the error is e/√5 (small angles; computed, no source), and as no correction is made its mean
    counts too. GUM F.2.4.4 treats such an error.
    """
    error = tilt_error_nm(length_nm, greatest_tilt_deg)
    return BudgetLine("tilt (cosine error)", error / math.sqrt(5), how=f"up to {greatest_tilt_deg:g}°")


def reading_budget(
    readings_nm: Sequence[int],
    *,
    permissible_error_nm: float,
    step_nm: float,
    parts_estimated: int = 1,
    prior_s_nm: float | None = None,
    prior_dof: float | None = None,
    at: Warmth | None = None,
    greatest_tilt_deg: float = 0.0,
    more: Iterable[BudgetLine] = (),
) -> Combined:
    """The uncertainty of the mean of `readings_nm` [nm], after the correction for warmth.

    permissible_error_nm  the gauge is right within ± this: its maker's or calibration's maximum permissible error [nm]
    step_nm               digital step or scale graduation [nm]; parts_estimated as in `resolution`
    prior_s_nm, prior_dof the gauge's known repeatability [nm], needed for a single reading
    at                    the warmth; left out, it adds nothing, which is right only for a comparison at one temperature
    greatest_tilt_deg     how far the line of measurement may lean [°]
    more                  further lines
    All lines are added, the scale's also where the repeats already show it: on the safe side.
    Raises OutOfRange, Impossible.
    """
    within("permissible_error_nm", permissible_error_nm, 0.0, unit="nm")
    lines = [
        rectangular("gauge, permissible error", permissible_error_nm),
        resolution(step_nm, parts_estimated),
        repeatability(readings_nm, prior_s_nm=prior_s_nm, prior_dof=prior_dof),
    ]
    length_nm = sum(readings_nm) / len(readings_nm)
    if at is not None:
        lines += thermal_lines(length_nm, at)
    if greatest_tilt_deg:
        lines.append(tilt_line(length_nm, greatest_tilt_deg))
    return combine([*lines, *more])


@dataclass(frozen=True, slots=True)
class Compared:
    """A size found by comparison with a standard, at 20 °C [nm], and its uncertainty."""

    size_nm: int
    uncertainty: Combined


def compared_with_standard(
    standard_nm: int,
    difference_nm: float,
    *,
    standard: BudgetLine,
    difference: Iterable[BudgetLine],
    at: Warmth,
    second_order: bool = True,
) -> Compared:
    """The size at 20 °C of a part compared with a gauge block or setting standard.

    standard_nm    certified size of the standard at 20 °C [nm], `standard` its doubt
    difference_nm  part less standard as the comparator showed it [nm], `difference` its doubts
    l = ls + d − ls(δα θ + αs δθ), GUM H.1.2 equation H.2; the comparator's own warmth is left out, its travel is short.
    """
    positive_length("standard_nm", standard_nm)
    size = round(standard_nm + within("difference_nm", difference_nm) + thermal_correction_nm(standard_nm, at))
    lines = [standard, *difference, *thermal_lines(standard_nm, at, second_order=second_order)]
    return Compared(size, combine(lines))


def u_from_interval_nm(half_width_nm: float, coverage: float, dof: float) -> float:
    """The standard uncertainty [nm] behind a half-width stated with `coverage` [-] and degrees of freedom (GUM 4.3.4,
    H.1.3.2)."""
    return within("half_width_nm", half_width_nm, 0.0, unit="nm") / t_quantile(dof, coverage)
