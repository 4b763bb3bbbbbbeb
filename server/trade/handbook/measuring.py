"""Handbook calculations on measuring: warmth, uncertainty, what a reading proves, gauge studies.

With those of server/trade/handbook/setting_out.py they make CALCULATIONS.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from server.trade.bounds import length_not_negative
from server.trade.conformity import RULES, decide
from server.trade.errors import Impossible
from server.trade.gauge_bias import gauge_bias
from server.trade.gauge_study import analysis_of_variance, average_and_range
from server.trade.handbook.calculation import Calculation, Input, Output
from server.trade.handbook.setting_out import SETTING_OUT
from server.trade.reading_uncertainty import (
    Warmth,
    compared_with_standard,
    reading_budget,
    tilt_error_nm,
    tilt_line,
    warmth,
)
from server.trade.repeats import repeats, t_quantile
from server.trade.temperature import (
    EXPANSIONS,
    GREATEST_C,
    LEAST_C,
    corrected_reading_nm,
    expansion_of,
    expected_reading_nm,
    size_at_temperature_nm,
)
from server.trade.uncertainty import Combined, from_certificate, repeatability, resolution


def _length(label: str, value_nm: float, note: str = "") -> Output:
    return Output(label, round(value_nm), "length", note=note)


def _none_negative(inputs: Mapping[str, Any], *names: str) -> None:
    """Refuse lengths below 0 in the words of lengths, before a budget would in nanometres."""
    for name in names:
        if inputs[name] is not None:
            length_not_negative(name, inputs[name])


def _growth(inputs: Mapping[str, Any]) -> Sequence[Output]:
    size_nm, material = inputs["size_nm"], expansion_of(inputs["material"])
    warm_nm = size_at_temperature_nm(size_nm, inputs["temperature_c"], material.per_c)
    doubt_nm = abs(size_nm * material.half_width_per_c * (inputs["temperature_c"] - 20))
    return (
        _length("Size at that temperature", warm_nm),
        _length("Growth", warm_nm - size_nm),
        _length("Growth, give or take", doubt_nm, material.source),
    )


def _temperatures(inputs: Mapping[str, Any]) -> dict[str, float]:
    gauge_c = inputs["gauge_c"]
    return {
        "part_c": inputs["part_c"],
        "part_per_c": expansion_of(inputs["part_material"]).per_c,
        "gauge_c": inputs["part_c"] if gauge_c is None else gauge_c,
        "gauge_per_c": expansion_of(inputs["gauge_material"]).per_c,
    }


def _thermal_correction(inputs: Mapping[str, Any]) -> Sequence[Output]:
    size_nm = corrected_reading_nm(inputs["reading_nm"], **_temperatures(inputs))
    return (_length("Size at 20 °C", size_nm), _length("Correction", size_nm - inputs["reading_nm"]))


def _warm_reading(inputs: Mapping[str, Any]) -> Sequence[Output]:
    wanted_nm = inputs["size_at_reference_nm"]
    reading_nm = expected_reading_nm(wanted_nm, **_temperatures(inputs))
    return (_length("Reading to work to", reading_nm), _length("More than the size by", reading_nm - wanted_nm))


def _repeat_readings(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found, coverage = repeats(inputs["values"]), inputs["coverage_percent"] / 100
    return (
        _length("Mean", found.mean),
        _length("Standard deviation of one", found.s),
        _length("Standard uncertainty of the mean", found.u_mean),
        Output("Student's t", t_quantile(found.dof, coverage), decimals=3, note=f"{found.dof} degrees of freedom"),
        _length("Mean holds within ±", found.half_width(coverage)),
    )


def _warmth_of(inputs: Mapping[str, Any]) -> Warmth:
    return warmth(
        expansion_of(inputs["part_material"]),
        expansion_of(inputs["gauge_material"]),
        part_c=inputs["part_c"],
        gauge_c=inputs["gauge_c"],
        temperature_half_width_c=inputs["temperature_half_width_c"],
        difference_half_width_c=inputs["difference_half_width_c"],
    )


def _uncertainty_outputs(found: Combined) -> tuple[Output, ...]:
    expanded = found.expanded(0.95)
    largest = max(found.lines, key=lambda line: line.u_nm)
    share = 100 * (largest.u_nm / found.u_nm) ** 2 if found.u_nm else 0.0
    dof = "any number of" if math.isinf(expanded.dof) else f"{expanded.dof:g}"
    return (
        _length("Expanded uncertainty, 95 %", expanded.u_expanded_nm),
        Output("k", expanded.k, decimals=2, note=f"{dof} degrees of freedom"),
        _length("Standard uncertainty", found.u_nm),
        Output("Largest part", largest.what, "text", note=f"{share:.0f} % of it"),
    )


def _reading_uncertainty(inputs: Mapping[str, Any]) -> Sequence[Output]:
    readings_nm: list[int] = inputs["readings_nm"]
    _none_negative(inputs, "permissible_error_nm", "step_nm", "prior_s_nm")
    found = reading_budget(
        readings_nm,
        permissible_error_nm=inputs["permissible_error_nm"],
        step_nm=inputs["step_nm"],
        prior_s_nm=inputs["prior_s_nm"],
        at=_warmth_of(inputs),
        greatest_tilt_deg=inputs["greatest_tilt_deg"],
    )
    mean_nm = round(sum(readings_nm) / len(readings_nm))
    size_nm = corrected_reading_nm(mean_nm, **_temperatures(inputs))
    return (_length("Size at 20 °C", size_nm), *_uncertainty_outputs(found))


def _comparison(inputs: Mapping[str, Any]) -> Sequence[Output]:
    readings_nm: list[int] = inputs["readings_nm"]
    _none_negative(inputs, "expanded_nm", "step_nm", "prior_s_nm")
    scatter = repeatability(readings_nm, prior_s_nm=inputs["prior_s_nm"])
    found = compared_with_standard(
        inputs["standard_nm"],
        sum(readings_nm) / len(readings_nm),
        standard=from_certificate("standard", inputs["expanded_nm"]),
        difference=[scatter, resolution(inputs["step_nm"])],
        at=_warmth_of(inputs),
    )
    return (_length("Size at 20 °C", found.size_nm), *_uncertainty_outputs(found.uncertainty))


def _tilt(inputs: Mapping[str, Any]) -> Sequence[Output]:
    length_nm, tilt = inputs["length_nm"], inputs["greatest_tilt_deg"]
    return (
        _length("Reads too long by up to", tilt_error_nm(length_nm, tilt)),
        _length("Standard uncertainty", tilt_line(length_nm, tilt).u_nm),
    )


def _conformity(inputs: Mapping[str, Any]) -> Sequence[Output]:
    _none_negative(inputs, "expanded_nm")
    line = from_certificate("reading", inputs["expanded_nm"], inputs["k"])
    found = decide(
        inputs["size_nm"],
        line.u_nm,
        inputs["low_nm"],
        inputs["high_nm"],
        rule=inputs["rule"],
        least_probability=inputs["least_percent"] / 100,
    )
    outputs = [
        Output("Verdict", found.verdict, "text", note=found.why),
        Output("Probability of being inside", 100 * found.probability, unit="%", decimals=1),
    ]
    if found.accept_low_nm is not None:
        outputs.append(_length("Proved good from", found.accept_low_nm))
    if found.accept_high_nm is not None:
        outputs.append(_length("Proved good up to", found.accept_high_nm))
    return tuple(outputs)


def _gauge_study(inputs: Mapping[str, Any]) -> Sequence[Output]:
    values: list[int] = inputs["readings_nm"]
    appraisers, parts = inputs["appraisers"], inputs["parts"]
    trials, left = divmod(len(values), appraisers * parts)
    if left or not trials:
        read, accepts = f"{len(values)} readings", f"a multiple of {appraisers * parts} readings"
        why = f"they do not share out among {appraisers} appraisers and {parts} parts"
        raise Impossible("readings_nm", read, why, accepts)
    readings = [
        [[values[(a * trials + trial) * parts + part] for trial in range(trials)] for part in range(parts)]
        for a in range(appraisers)
    ]
    study = average_and_range if inputs["method"] == "average and range" else analysis_of_variance
    found = study(readings, inputs["tolerance_nm"])
    shares = {
        "Repeatability EV": found.repeatability,
        "Reproducibility AV": found.reproducibility,
        "Interaction": found.interaction,
        "Gauge GRR": found.gauge,
        "Parts PV": found.parts,
        "Total TV": found.total,
    }
    outputs = [
        _length(name, share.s_nm, f"{share.percent:.1f} % of total")
        for name, share in shares.items()
        if share is not None
    ]
    if found.gauge.percent_of_tolerance is not None:
        outputs.append(Output("Gauge of tolerance", found.gauge.percent_of_tolerance, unit="%", decimals=1))
    if found.categories is not None:
        outputs.append(Output("Distinct categories", found.categories, decimals=0))
    outputs.append(Output("Judgement", found.judgement, "text", note="under 10 % good, over 30 % not (AIAG guide)"))
    return tuple(outputs)


def _gauge_bias(inputs: Mapping[str, Any]) -> Sequence[Output]:
    found = gauge_bias(inputs["readings_nm"], inputs["reference_nm"], method=inputs["method"])
    return (
        _length("Bias", found.bias_nm),
        _length("From", found.low_nm, "95 %"),
        _length("To", found.high_nm, "95 %"),
        _length("Repeatability", found.repeatability_nm, "one standard deviation"),
        Output("Bias shown", "yes" if found.shown else "no", "text"),
    )


_MATERIALS: Final = tuple(EXPANSIONS)
_PART: Final = Input("part_material", "Part", "choice", choices=_MATERIALS, default="carbon steel")
_GAUGE: Final = Input("gauge_material", "Gauge", "choice", choices=_MATERIALS, default="gauge steel")
_PART_C: Final = Input("part_c", "Part at", "number", "°C", default="20", least=LEAST_C, greatest=GREATEST_C)
_GAUGE_C: Final = Input(
    "gauge_c", "Gauge at", "number", "°C", optional=True, hint="as the part", least=LEAST_C, greatest=GREATEST_C
)
_ROOM: Final = Input(
    "temperature_half_width_c", "Temperature known to ±", "number", "°C", default="1", least=0, greatest=40
)
_APART: Final = Input(
    "difference_half_width_c", "Part and gauge apart by up to ±", "number", "°C", default="0.5", least=0, greatest=40
)
_READINGS: Final = Input("readings_nm", "Readings", "lengths", hint="one or more, with spaces between")
_PRIOR: Final = Input("prior_s_nm", "Gauge's known repeatability (s)", "length", optional=True, hint="for one reading")
_EXPANSION: Final = "expansion table: public tables, each with its range; ISO 1:2022 for 20 °C"
_GUM: Final = "JCGM 100:2008 (GUM) 4, 5, G.4 and example H.1 (from memory)"

CALCULATIONS: Final[tuple[Calculation, ...]] = (
    Calculation(
        "thermal-growth",
        "Measuring",
        "Growth with warmth",
        "How much larger is it warm?",
        (
            Input("size_nm", "Size at 20 °C", "length", default="100 mm"),
            Input("material", "Material", "choice", choices=_MATERIALS, default="carbon steel"),
            Input("temperature_c", "Temperature", "number", "°C", default="28", least=LEAST_C, greatest=GREATEST_C),
        ),
        _growth,
        "growth = L α (t − 20 °C)",
        _EXPANSION,
    ),
    Calculation(
        "thermal-correction",
        "Measuring",
        "Reading corrected to 20 °C",
        "What size is it really, measured warm?",
        (Input("reading_nm", "Reading", "length", default="50 mm"), _PART, _PART_C, _GAUGE, _GAUGE_C),
        _thermal_correction,
        "L20 = R (1 + αg (tg − 20)) / (1 + αp (tp − 20))",
        f"JCGM 100:2008 H.1.2 (from memory); {_EXPANSION}",
    ),
    Calculation(
        "warm-reading",
        "Measuring",
        "Reading to work to while warm",
        "What should the gauge show now, for the size to be right when cold?",
        (Input("size_at_reference_nm", "Size at 20 °C", "length", default="50 mm"), _PART, _PART_C, _GAUGE, _GAUGE_C),
        _warm_reading,
        "R = L20 (1 + αp (tp − 20)) / (1 + αg (tg − 20))",
        f"JCGM 100:2008 H.1.2 (from memory); {_EXPANSION}",
    ),
    Calculation(
        "repeat-readings",
        "Measuring",
        "Mean and spread of repeats",
        "How far can the mean of these readings be off by chance?",
        (
            Input("values", "Readings", "lengths", default="12.004mm 12.006mm 12.005mm", hint="two or more"),
            Input("coverage_percent", "Coverage", "number", "%", default="95", least=50, greatest=99.9),
        ),
        _repeat_readings,
        "s = √(Σ(x − x̄)² / (n − 1)),  u = s / √n,  ± t(n − 1) u",
        "JCGM 100:2008 4.2 and table G.2 (from memory)",
    ),
    Calculation(
        "reading-uncertainty",
        "Measuring",
        "Uncertainty of a reading",
        "How well do I know this size?",
        (
            _READINGS,
            Input("permissible_error_nm", "Gauge right within ±", "length", default="0.004 mm"),
            Input("step_nm", "Smallest step read", "length", default="0.001 mm"),
            _PRIOR,
            _PART,
            _PART_C,
            _GAUGE,
            _GAUGE_C,
            _ROOM,
            _APART,
            Input("greatest_tilt_deg", "Tilt, up to", "number", "°", default="0", least=0, greatest=20),
        ),
        _reading_uncertainty,
        "u² = MPE²/3 + step²/12 + s²/n + warmth² + tilt²;  U = t(ν) u,  ν = u⁴ / Σ(uᵢ⁴/νᵢ)",
        f"{_GUM}; {_EXPANSION}",
    ),
    Calculation(
        "comparison",
        "Measuring",
        "Comparison with a gauge block",
        "What size is it, compared with a standard?",
        (
            Input("standard_nm", "Standard at 20 °C", "length", default="50 mm"),
            Input("expanded_nm", "Its uncertainty U, k = 2", "length", default="0.0002 mm"),
            Input("readings_nm", "Part less standard", "lengths", hint="one or more differences"),
            Input("step_nm", "Smallest step read", "length", default="0.001 mm"),
            _PRIOR,
            _PART,
            _PART_C,
            _GAUGE,
            _GAUGE_C,
            _ROOM,
            _APART,
        ),
        _comparison,
        "l = ls + d − ls (δα θ + αs δθ)",
        f"{_GUM}; {_EXPANSION}",
    ),
    Calculation(
        "tilt-error",
        "Measuring",
        "Cosine error of a measured length",
        "How much too long does it read when held askew?",
        (
            Input("length_nm", "Length", "length", default="100 mm"),
            Input("greatest_tilt_deg", "Tilt, up to", "number", "°", default="1", least=0, greatest=20),
        ),
        _tilt,
        "e = L (1 − cos A),  u = e / √5",
        "geometry; the spread for every tilt alike, computed, no source; cf. JCGM 100:2008 F.2.4.4",
    ),
    Calculation(
        "conformity",
        "Measuring",
        "Does it conform",
        "Does this reading prove the size inside its limits?",
        (
            Input("size_nm", "Size measured", "length", default="10.013 mm"),
            Input("expanded_nm", "Its uncertainty U", "length", default="0.004 mm"),
            Input("k", "k of that U", "number", default="2", least=1, greatest=20),
            Input("low_nm", "Lower limit", "length", optional=True),
            Input("high_nm", "Upper limit", "length", optional=True),
            Input("rule", "Rule", "choice", choices=RULES, default=RULES[0]),
            Input("least_percent", "How sure is sure (2017)", "number", "%", default="95", least=50, greatest=99.99),
        ),
        _conformity,
        "p = Φ((high − x)/u) − Φ((low − x)/u);  guard band 1.645 u (2017), 2 u (1998)",
        "ISO 14253-1:2017 and :1998, JCGM 106:2012 7 (from memory)",
    ),
    Calculation(
        "gauge-study",
        "Measuring",
        "Gauge repeatability study",
        "How much of the spread is the gauge?",
        (
            Input("readings_nm", "Readings", "lengths", hint="hand by hand, trial by trial, all parts in one order"),
            Input("appraisers", "Hands", "whole", default="1", least=1, greatest=20),
            Input("parts", "Parts", "whole", default="10", least=2, greatest=100),
            Input(
                "method",
                "Method",
                "choice",
                choices=("average and range", "analysis of variance"),
                default="analysis of variance",
            ),
            Input("tolerance_nm", "Tolerance", "length", optional=True),
        ),
        _gauge_study,
        "EV = R̄ K1;  AV² = (X̄diff K2)² − EV²/(n r);  GRR² = EV² + AV²;  PV = Rp K3;  TV² = GRR² + PV²",
        "AIAG Measurement Systems Analysis, 4th ed., ch. III (constants found; analysis of variance from memory)",
    ),
    Calculation(
        "gauge-bias",
        "Measuring",
        "Gauge bias",
        "Does the gauge read right on a known piece?",
        (
            Input("readings_nm", "Readings", "lengths", hint="two or more of the known piece"),
            Input("reference_nm", "Known size", "length"),
            Input(
                "method",
                "Spread by",
                "choice",
                choices=("standard deviation", "range"),
                default="standard deviation",
            ),
        ),
        _gauge_bias,
        "bias = x̄ − reference,  ± t s / √n",
        "AIAG Measurement Systems Analysis, 3rd ed. p. 86",
    ),
    *SETTING_OUT,
)
