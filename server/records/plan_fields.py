"""The fields a sheet of dimensions or of operations can hold, and the headings builders give them.

The words are the trade's usual ones: common practice, no source. A word that could as well mean something else is left
out, so that the builder is asked ("Item" is the part to one and the dimension to another).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["dimensions", "operations"]
KINDS: tuple[Kind, ...] = ("dimensions", "operations")


@dataclass(frozen=True, slots=True)
class Field:
    """One thing a column can hold: its name in the program, its name on a screen, the headings that mean it."""

    name: str
    label: str
    required: bool
    headings: tuple[str, ...]


def _any_of(headings: str) -> tuple[str, ...]:
    return tuple(heading.strip() for heading in headings.split("|"))


_PART = Field(
    "part",
    "Part",
    True,
    _any_of(
        "part | part no | part number | part num | part ref | component | drawing | drawing no | drawing number "
        "| drg no | drg"
    ),
)
_OF_THE_PART = (
    Field(
        "part_name",
        "Part name",
        False,
        _any_of("part name | name of part | part description | part title"),
    ),
    Field(
        "material",
        "Material",
        False,
        _any_of("material | part material | matl | mat'l | made of"),
    ),
    Field(
        "hand",
        "Hand",
        False,
        _any_of("hand | handing | handed | left or right | l/r | lh/rh"),
    ),
    Field(
        "needed",
        "How many are needed",
        False,
        _any_of(
            "needed | number needed | no needed | qty | quantity | number off | no off | off | how many | "
            "required number | quantity needed | qty needed | number required | no required | quantity required "
            "| qty required"
        ),
    ),
    Field(
        "spares",
        "Spares",
        False,
        _any_of("spares | number of spares | spares wanted | spare pieces | no of spares"),
    ),
    Field(
        "revision",
        "Revision",
        False,
        _any_of("revision | rev | rev no | issue | drawing issue | drawing revision"),
    ),
)

_DIMENSIONS = (
    _PART,
    Field(
        "number",
        "Dimension number",
        True,
        _any_of(
            "no | number | num | nr | # | dim no | dim number | dim | dimension no | dimension number | feature "
            "no | balloon | balloon no | balloon number | ref | ref no"
        ),
    ),
    Field(
        "name",
        "What",
        True,
        _any_of(
            "what | name | description | feature | dimension | dimension name | dim name | characteristic | "
            "what it is | what is measured | measured feature"
        ),
    ),
    Field(
        "requirement",
        "Requirement",
        True,
        _any_of(
            "requirement | limits | size | size and limits | size with limits | limits of size | required size "
            "| drawing size | size and tolerance | size with tolerance | toleranced size | nominal and "
            "tolerance | dimension and tolerance | spec | specification | to drawing | drawn size"
        ),
    ),
    Field(
        "unit",
        "Unit",
        False,
        _any_of("unit | unit of measure | unit of length | mm or in | mm/in | mm or inch | in or mm"),
    ),
    Field(
        "cutting",
        "Cutting makes it",
        False,
        _any_of(
            "cutting | cutting makes it | cutting makes | cutting direction | direction of cutting | cutting it "
            "makes it | machining makes it | metal removal makes it | cut makes it | cutting gets it | larger "
            "or smaller | smaller or larger"
        ),
    ),
    Field(
        "operation",
        "Operation",
        False,
        _any_of(
            "op | operation | op no | op number | operation no | operation number | opn | opn no | made in | "
            "made in op | made in operation | made at | made at op | made by | made by op | cut in | cut in op "
            "| cut at op | at op | in op"
        ),
    ),
    Field(
        "importance",
        "Matters for",
        False,
        _any_of(
            "importance | matters for | matters | it matters for | what it matters for | important for | needed "
            "for | criticality | fit or working or cosmetic"
        ),
    ),
    Field(
        "gauge",
        "Gauge",
        False,
        _any_of(
            "gauge | gage | gauge used | gauge to use | measured with | measure with | measured by | checked "
            "with | check with | checked by | measuring instrument | instrument"
        ),
    ),
    *_OF_THE_PART,
)

_OPERATIONS = (
    _PART,
    Field(
        "number",
        "Operation number",
        True,
        _any_of(
            "op | operation | op no | op number | operation no | operation number | opn | opn no | no | number "
            "| num | nr | # | step | step no | step number | sequence | sequence no | sequence number | seq | "
            "seq no"
        ),
    ),
    Field(
        "name",
        "What",
        True,
        _any_of(
            "what | name | description | operation name | op name | operation description | op description | "
            "what is done | what to do | to do | task | work | work to do | step description"
        ),
    ),
    Field(
        "machine",
        "Machine",
        False,
        _any_of("machine | machine tool | machine used | on machine | done on | which machine"),
    ),
    Field(
        "setup",
        "Set-up",
        False,
        _any_of(
            "set-up | setup | workholding | work holding | holding | held in | held by | how held | fixture | "
            "fixturing | set-up and workholding | clamping"
        ),
    ),
    Field(
        "work_offset",
        "Work offset",
        False,
        _any_of(
            "offset | work offset | work zero | zero | coordinate system | work coordinate system | work "
            "coordinate | wcs"
        ),
    ),
    Field(
        "cutters",
        "Cutters",
        False,
        _any_of("cutter | cutters | tool | tools | tooling | cutting tools | cutters used | tools used"),
    ),
    Field(
        "planned_minutes",
        "Planned minutes",
        False,
        _any_of(
            "min | mins | minutes | planned minutes | planned min | planned time | time | time planned | time "
            "allowed | estimated minutes | estimated time | est min | est time | duration | time min | time in "
            "minutes | time in min | hours | hrs | planned hours | estimated hours | time in hours"
        ),
    ),
    Field(
        "check_before",
        "Check before",
        False,
        _any_of(
            "check before | check before start | check before starting | check before cutting | before cutting "
            "| before start | before starting | check first | checks | check | set-up check"
        ),
    ),
    *_OF_THE_PART,
)


def fields_of(kind: Kind) -> tuple[Field, ...]:
    """The fields a sheet of this kind can hold, in the order they are offered to the builder."""
    return _DIMENSIONS if kind == "dimensions" else _OPERATIONS
