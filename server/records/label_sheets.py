"""Sheets of self-adhesive labels: how many of which size stand where on the paper.

The sizes are those commonly sold; that they stand centred on the sheet is common practice, no source, and the figures
are from memory: whoever buys a sheet holds a print on plain paper against it first. Every place is whole nanometres
from the upper left corner of the paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade.errors import OutOfRange
from server.trade.length import NM_PER_IN, NM_PER_MM, format_length

Paper = Literal["A4", "Letter"]
PAPERS_NM: Final[dict[Paper, tuple[int, int]]] = {
    "A4": (210 * NM_PER_MM, 297 * NM_PER_MM),  # ISO 216
    "Letter": (NM_PER_IN * 17 // 2, NM_PER_IN * 11),  # ANSI/ASME Y14.1, size A
}


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one label stands: its sheet (0 is the first), and its upper left corner on it."""

    sheet: int
    left_nm: int
    top_nm: int


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """Labels of one size in columns and rows, centred on the paper, `gap_nm` between columns."""

    paper: Paper
    width_nm: int
    height_nm: int
    columns: int
    rows: int
    gap_nm: int = 0
    inches: str = ""

    @property
    def key(self) -> str:
        """The word for it in an address."""
        return f"{self.paper}-{_mm(self.width_nm)}x{_mm(self.height_nm)}-{self.columns}x{self.rows}"

    @property
    def name(self) -> str:
        size = f"{_mm(self.width_nm)} × {_mm(self.height_nm)} mm"
        inches = f" ({self.inches})" if self.inches else ""
        return f"{size}{inches}, {self.columns} × {self.rows} on {self.paper}"

    @property
    def each(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    def spots(self, count: int, start: int = 1, right_nm: int = 0, down_nm: int = 0) -> Iterator[Spot]:
        """Where `count` labels stand, row by row, the first at position `start` (1: upper left) of the first sheet.

        `right_nm`, `down_nm` shift the print [nm], for a printer that feeds off the mark: 5 mm at most either way.
        Raises OutOfRange.
        """
        if not 1 <= start <= self.each:
            accepts = f"a position from 1 to {self.each}"
            raise OutOfRange("start", start, f"this sheet has {self.each} labels", accepts)
        for name, shift_nm in (("right", right_nm), ("down", down_nm)):
            if abs(shift_nm) > FURTHEST_SHIFT_NM:
                read = f"{_mm(shift_nm)} mm"
                raise OutOfRange(name, read, "it moves the print too far", "a shift of 5 mm at most")
        paper_width_nm, paper_height_nm = PAPERS_NM[self.paper]
        pitch_nm = self.width_nm + self.gap_nm
        left_nm = (paper_width_nm - pitch_nm * self.columns + self.gap_nm) // 2
        top_nm = (paper_height_nm - self.height_nm * self.rows) // 2
        for place in range(start - 1, start - 1 + count):
            sheet, on_it = divmod(place, self.each)
            row, column = divmod(on_it, self.columns)
            yield Spot(sheet, left_nm + column * pitch_nm + right_nm, top_nm + row * self.height_nm + down_nm)


FURTHEST_SHIFT_NM: Final = 5 * NM_PER_MM


def _mm(nm: int) -> str:
    """To a tenth of a millimetre, as labels are sold."""
    return format_length(nm, "mm", 1).removesuffix(".0")


def _a4(width_mm: str, height_mm: str, columns: int, rows: int, gap_mm: str = "0") -> LabelSheet:
    sizes = (int(Fraction(each) * NM_PER_MM) for each in (width_mm, height_mm, gap_mm))
    width_nm, height_nm, gap_nm = sizes
    return LabelSheet("A4", width_nm, height_nm, columns, rows, gap_nm)


def _letter(width: str, height: str, columns: int, rows: int, gap: str = "0") -> LabelSheet:
    """Sizes in inches, with fractions."""
    width_nm, height_nm, gap_nm = (
        int(sum(map(Fraction, each.split()), Fraction()) * NM_PER_IN) for each in (width, height, gap)
    )
    return LabelSheet("Letter", width_nm, height_nm, columns, rows, gap_nm, f"{width} × {height} in")


_ALL: Final = (
    _a4("63.5", "38.1", 3, 7, "2.5"),
    _a4("70", "37", 3, 8),
    _a4("105", "57", 2, 5),
    _a4("99.1", "67.7", 2, 4, "2.5"),
    _a4("99.1", "38.1", 2, 7, "2.5"),
    _a4("63.5", "33.9", 3, 8, "2.5"),
    _a4("52.5", "29.7", 4, 10),
    _a4("48.5", "25.4", 4, 10),
    _a4("45.7", "21.2", 4, 12, "2.5"),
    _a4("38.1", "21.2", 5, 13, "2.5"),
    _letter("2 5/8", "1", 3, 10, "1/8"),
    _letter("4", "2", 2, 5, "3/16"),
    _letter("4", "1 1/3", 2, 7, "3/16"),
    _letter("4", "1", 2, 10, "3/16"),
    _letter("4", "3 1/3", 2, 3, "3/16"),
)
SHEETS: Final = {sheet.key: sheet for sheet in _ALL}
