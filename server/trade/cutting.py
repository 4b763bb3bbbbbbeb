"""Cutting speed and spindle speed, feed a tooth and table feed, and the chip a light side cut really makes.

Nomenclature as in ISO 3002-3: cutting speed vc, feed per tooth fz, width of cut ae, chip thickness h.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.trade.bounds import length_at_most, positive, positive_length
from server.trade.errors import OutOfRange
from server.trade.within import within

METRES_PER_FOOT = 0.3048

ChipMethod = Literal["greatest", "mean", "mean, small widths"]
CHIP_METHODS: tuple[ChipMethod, ...] = ("greatest", "mean", "mean, small widths")


def spindle_speed_rpm(speed_m_per_min: float, diameter_nm: int) -> float:
    """Spindle speed [rev/min] for a cutting speed [m/min] at a diameter [nm] (of the cutter, or of the work turned).

    n = vc / (π D), exact: the shop rules 4 V/D and 3.82 V/D (ft/min, in) are roundings of it, 4.7 % apart.
    Raises OutOfRange for a speed or diameter that is not more than 0.
    """
    positive("speed_m_per_min", speed_m_per_min, "m/min")
    positive_length("diameter_nm", diameter_nm)
    return speed_m_per_min * 1e9 / (math.pi * diameter_nm)


def cutting_speed_m_per_min(rpm: float, diameter_nm: int) -> float:
    """Cutting speed [m/min] at a spindle speed [rev/min] and a diameter [nm]; the inverse of spindle_speed_rpm.

    For a ball-nose cutter give the effective diameter, not the cutter's own. Raises OutOfRange as that does.
    """
    positive("rpm", rpm, "rev/min")
    positive_length("diameter_nm", diameter_nm)
    return math.pi * diameter_nm * rpm / 1e9


@dataclass(frozen=True, slots=True)
class SpindleSetting:
    """What the spindle can do about a wanted speed: wanted and set [rev/min], the cutting speed reached [m/min]."""

    wanted_rpm: float
    rpm: float
    speed_m_per_min: float

    @property
    def limited(self) -> bool:
        """Whether the spindle's range, and not the cutter, set the speed."""
        return self.rpm != self.wanted_rpm


def spindle_setting(
    speed_m_per_min: float, diameter_nm: int, highest_rpm: float, lowest_rpm: float = 0.0
) -> SpindleSetting:
    """The spindle speed [rev/min] nearest to the wanted one that the machine has, and the cutting speed then reached.

    speed_m_per_min wanted [m/min], diameter_nm [nm], highest_rpm and lowest_rpm of the spindle [rev/min]. The feed has
    to be worked out from the speed set, not from the wanted one: feed(setting.rpm, ...).
    Raises OutOfRange; also where lowest_rpm is above highest_rpm.
    """
    positive("highest_rpm", highest_rpm, "rev/min")
    within("lowest_rpm", lowest_rpm, 0.0, highest_rpm, "rev/min")
    wanted = spindle_speed_rpm(speed_m_per_min, diameter_nm)
    rpm = min(max(wanted, lowest_rpm), highest_rpm)
    return SpindleSetting(wanted, rpm, cutting_speed_m_per_min(rpm, diameter_nm))


def table_feed_nm_per_min(rpm: float, flutes: int, feed_per_tooth_nm: float) -> float:
    """Table feed [nm/min] from spindle speed [rev/min], number of flutes and feed a tooth [nm].

    vf = n z fz. A drill or a single-point tool has one "flute" where the feed is given for a revolution; a tap's feed
    for a revolution is its pitch. Raises OutOfRange for anything not more than 0.
    """
    positive("rpm", rpm, "rev/min")
    _flutes(flutes)
    positive("feed_per_tooth_nm", feed_per_tooth_nm, "nm")
    return rpm * flutes * feed_per_tooth_nm


def feed_per_tooth_nm(rpm: float, flutes: int, feed_nm_per_min: float) -> float:
    """Feed a tooth [nm, not rounded] from spindle speed [rev/min], number of flutes and table feed [nm/min].

    The inverse of table_feed_nm_per_min. Not rounded to whole nm, so that small feeds keep their figures.
    """
    positive("rpm", rpm, "rev/min")
    _flutes(flutes)
    positive("feed_nm_per_min", feed_nm_per_min, "nm/min")
    return feed_nm_per_min / (rpm * flutes)


def chip_factor(width_nm: int, diameter_nm: int, method: ChipMethod = "greatest") -> float:
    """Chip thickness as a share of the feed a tooth [-] for side milling with width of cut and cutter diameter [nm].

    Sources disagree on which chip is meant, so the method is named:

    "greatest"            2 √(x (1 − x)), and 1 from half the diameter up; x = width / diameter. The thickest place of
                          the chip, where it meets the uncut face. Used for "radial chip thinning" in shop practice.
    "mean"                2 x / arccos(1 − 2 x): the mean over the arc in the cut, exact for a straight-fluted cutter.
    "mean, small widths"  √x, as cutting-tool catalogues print it for hm: the limit of "mean" for small x. Covered up
                          to half the diameter, where it is 11 % above the exact mean.

    For small widths the greatest is twice the mean, so the feed each of them suggests differs by a factor of up to 2.
    Assumes cutting edges parallel to the axis (entering angle 90°) and a feed that is small beside the diameter.
    Raises OutOfRange for a width not more than 0 or above the diameter (above half of it for the last method).
    """
    positive_length("diameter_nm", diameter_nm)
    length_at_most("width_nm", width_nm, diameter_nm, "a cut cannot be wider than the cutter")
    share = width_nm / diameter_nm
    if method == "greatest":
        return 1.0 if 2 * width_nm >= diameter_nm else 2 * math.sqrt(share * (1 - share))
    if method == "mean":
        # arccos(1 − 2x) = 2 arcsin √x, which keeps its figures where x is small
        return share / math.asin(math.sqrt(share))
    if method == "mean, small widths":
        length_at_most("width_nm", width_nm, diameter_nm // 2, "this form holds up to half the cutter's diameter")
        return math.sqrt(share)
    raise OutOfRange("method", method, "there is no such method", ", ".join(CHIP_METHODS))


def chip_thickness_nm(
    feed_per_tooth_nm: float, width_nm: int, diameter_nm: int, method: ChipMethod = "greatest"
) -> float:
    """Chip thickness [nm, not rounded] made by a feed a tooth [nm] at a width of cut and cutter diameter [nm].

    See chip_factor for the methods and the range. Raises OutOfRange.
    """
    positive("feed_per_tooth_nm", feed_per_tooth_nm, "nm")
    return feed_per_tooth_nm * chip_factor(width_nm, diameter_nm, method)


def feed_for_chip_nm(chip_nm: float, width_nm: int, diameter_nm: int, method: ChipMethod = "greatest") -> float:
    """Feed a tooth [nm, not rounded] that makes a chip of chip_nm [nm]; the inverse of chip_thickness_nm."""
    positive("chip_nm", chip_nm, "nm")
    return chip_nm / chip_factor(width_nm, diameter_nm, method)


def _flutes(flutes: int) -> None:
    if flutes < 1:
        raise OutOfRange("flutes", flutes, "a cutter has at least one cutting edge", "a whole number, 1 or more")
