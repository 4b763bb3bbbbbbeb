"""The sine bar: the stack for an angle, the angle of a stack, and what an error in either does.

Plane trigonometry; the worked values it is tested against are named beside the tests.
"""

from __future__ import annotations

import math
from typing import Final

from server.trade.bounds import length_not_negative, positive_length, say_length
from server.trade.errors import Impossible
from server.trade.within import within

GREATEST_SINE_DEG: Final = 60.0


def sine_stack_nm(bar_nm: int, angle_deg: float) -> int:
    """The height to set under one roller [nm].

    bar_nm     distance between the roller centres [nm], as measured
    angle_deg  angle wanted from the plate [°], 0 to 60
    stack = L sin A. Assumes rollers of one diameter on one flat plate. Raises OutOfRange.
    """
    positive_length("bar_nm", bar_nm)
    return round(bar_nm * math.sin(math.radians(_angle(angle_deg))))


def sine_angle_deg(bar_nm: int, stack_nm: int) -> float:
    """The angle [°] a stack [nm] makes under a sine bar [nm]: asin(stack/L). Raises Impossible for a stack over L."""
    positive_length("bar_nm", bar_nm)
    length_not_negative("stack_nm", stack_nm)
    if stack_nm > bar_nm:
        accepts = f"a length up to {say_length(bar_nm)}"
        raise Impossible("stack_nm", say_length(stack_nm), "the stack is higher than the bar is long", accepts)
    return math.degrees(math.asin(stack_nm / bar_nm))


def sine_angle_error_deg(bar_nm: int, angle_deg: float, stack_error_nm: float, bar_error_nm: float = 0.0) -> float:
    """The worst error of the angle [°] from an error of the stack and one of the bar's length [nm].

    |dA| = |dS|/(L cos A) + tan A |dL|/L, first order; grows without end towards 90°, hence the limit of 60°.
    """
    positive_length("bar_nm", bar_nm)
    angle = math.radians(_angle(angle_deg))
    stack = abs(within("stack_error_nm", stack_error_nm)) / (bar_nm * math.cos(angle))
    return math.degrees(stack + math.tan(angle) * abs(within("bar_error_nm", bar_error_nm)) / bar_nm)


def _angle(angle_deg: float) -> float:
    return within("angle_deg", angle_deg, 0.0, GREATEST_SINE_DEG, "°, beyond it set the complement")


def dms(angle_deg: float) -> str:
    """An angle [°] in degrees, minutes and whole seconds, as it is set on a protractor: 34° 25′ 00″."""
    seconds = round(abs(within("angle_deg", angle_deg)) * 3600)
    sign = "−" if angle_deg < 0 and seconds else ""
    return f"{sign}{seconds // 3600}° {seconds // 60 % 60:02d}′ {seconds % 60:02d}″"
