"""CSV files to columns in SI, by RFC 4180 and the project's header rule ``name [unit]``.

Every row is counted and every cell looked at before the values are believed: a data frame library would take
``77,5,78,0`` under two columns for 78 and 0 without a word.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.errors import FileProblems, Problem
from generator.readers.limits import Limits
from generator.readers.report import nearest, shorten
from generator.readers.text import read_text
from generator.unit_grammar import QuantityError, comma_error
from generator.units import KINDS, MOST, NUMBER, parse_unit

MOST_PROBLEMS = 20

_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
"""How a spreadsheet's own file begins: as a zip, or as the older compound file."""
_HEADER = re.compile(r"(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_ROUND = re.compile(r"(?P<name>[^\[\]()]+?)\s*\((?P<unit>.*)\)")
_ALL_NUMBERS = re.compile(rf"(?:{NUMBER.pattern}\n)*+{NUMBER.pattern}", re.ASCII)
_MAYBE_FORMULA = re.compile(
    r'(?:^|,)[ \t]*"?[ \t]*(?:[=@]|[+-](?![0-9]*\.?[0-9]*(?:[eE][+-]?[0-9]+)?[ \t]*"?[ \t]*(?:,|$)))', re.MULTILINE
)
"""A quick look for cells that a spreadsheet might run; whole cells are looked at only where it finds something."""
_NOT_A_NUMBER = ("nan", "inf", "infinity", "na", "n/a", "null", "none")
_DASHES = "-–—−"
_NUMBER_WITH_COMMA = re.compile(r"[+-]?[0-9.]*[0-9],[0-9][0-9.,]*")


@dataclass(frozen=True)
class Column:
    """A wanted column: kind of its quantity, or None for text; header where the file has a name of its own for it.

    whole says that its numbers are counts, for what is said of other cells; the reader of the rows holds them to it.
    """

    name: str
    kind: str | None = None
    required: bool = True
    blank: bool = False
    header: str | None = None
    whole: bool = False


@dataclass(frozen=True)
class Table:
    """A read table: numbers as float arrays in SI (NaN where blank was allowed), texts as lists; lines in the file."""

    file: str
    columns: Mapping[str, Any]
    lines: tuple[int, ...]

    def __len__(self) -> int:
        return len(self.lines)

    def numbers(self, name: str) -> NDArray[np.float64]:
        """A numeric column in SI; NaN throughout where the file lacks it."""
        found: NDArray[np.float64] = self.columns.get(name, np.full(len(self), np.nan))
        return found

    def texts(self, name: str) -> Sequence[str]:
        """A text column; empty texts where the file lacks it."""
        found: Sequence[str] = self.columns.get(name, [""] * len(self))
        return found


def read_table(content: bytes, file: str, columns: Sequence[Column], limits: Limits, extra: bool = False) -> Table:
    """Columns of a CSV file in SI.

    Parameters
    ----------
    content
        The file's bytes.
    file
        Name that stands in problems.
    columns
        What is wanted.
    limits
        Rows and columns that are accepted.
    extra
        Whether columns that nobody asked for are passed over.

    Returns
    -------
    Table
        By the names of ``columns``; a column that is not required and not there is left out.

    Raises
    ------
    FileProblems
        With every problem found, up to twenty.

    Source: RFC 4180 for the form of the file.
    """
    return _TableReader(content, file, columns, limits, extra).read()


def scale(values: NDArray[np.float64], factor: Decimal) -> NDArray[np.float64]:
    """Values times a decimal factor, without a rounding of its own where the factor is one over a whole number."""
    inverse = 1 / factor
    return values / float(inverse) if inverse > 1 and inverse == int(inverse) else values * float(factor)


class _TableReader:
    """Checks one CSV file and turns it into a Table."""

    def __init__(self, content: bytes, file: str, columns: Sequence[Column], limits: Limits, extra: bool) -> None:
        self.content = content
        self.file = file
        self.wanted = columns
        self.limits = limits
        self.extra = extra
        self.problems: list[Problem] = []

    def add(self, line: int, column: int, code: str, message: str, fix: str) -> None:
        self.problems.append(Problem(self.file, line, column, "", code, message, fix))

    def stop_if_failed(self) -> None:
        if self.problems:
            raise FileProblems(self.problems[:MOST_PROBLEMS])

    def read(self) -> Table:
        text = self.decode()
        header, lines = self.count_fields(text)
        self.stop_if_failed()
        places = self.find_columns(header)
        self.stop_if_failed()
        frame = self.frame(text, len(header))
        if len(frame) != len(lines):
            self.add(1, 1, "csv-quotes", "the rows cannot be told apart", "remove quotes, and lines of spaces alone")
        self.stop_if_failed()
        values = {
            column.name: self.cells(frame[place], column, header[place], place, lines)
            for column, place in places.items()
        }
        self.stop_if_failed()
        return Table(self.file, values, lines)

    def decode(self) -> str:
        if self.content.startswith(_SPREADSHEETS):
            fix = "export the sheet as CSV, and name that file"
            self.add(0, 0, "csv-spreadsheet", "this is a spreadsheet's own file, not CSV", fix)
            self.stop_if_failed()
        text = read_text(self.content, self.file)
        if not text.strip():
            self.add(0, 0, "file-empty", "the file is empty", f"start with the header {self.header_example()}")
        else:
            self.check_first_line(text.partition("\n")[0])
        self.stop_if_failed()
        return text

    def check_first_line(self, first: str) -> None:
        for mark, name in ((";", "semicolons"), ("\t", "tabs")):
            if mark in first and "," not in first:
                fix = f"separate by commas and write decimal points, with the header {self.header_example()}"
                self.add(1, first.index(mark) + 1, "csv-semicolon", f"the fields are separated by {name}", fix)

    def header_example(self) -> str:
        return ",".join(_example(column) for column in self.wanted if column.required)

    def rows(self, text: str) -> Iterator[tuple[int, list[str]]]:
        """Rows that hold something, with the line in which each begins."""
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        line = 1
        try:
            for row in reader:
                if row:
                    yield line, row
                line = reader.line_num + 1
        except csv.Error as error:
            self.add(
                line, 1, "csv-quotes", f"the row cannot be read ({error})", 'close the quotes; a quote inside is ""'
            )

    def without_formulas(self, rows: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
        """The rows as they are, with a problem for each cell that a spreadsheet would run."""
        for line, row in rows:
            for place, cell in enumerate((cell.strip() for cell in row), 1):
                if cell.startswith(("=", "+", "-", "@")) and not _is_harmless(cell):
                    fix = "begin the text with a letter or a digit"
                    self.add(line, place, "csv-formula", f'"{shorten(cell)}" is a formula to a spreadsheet', fix)
            yield line, row

    def count_fields(self, text: str) -> tuple[list[str], tuple[int, ...]]:
        rows = self.without_formulas(self.rows(text)) if _MAYBE_FORMULA.search(text) else self.rows(text)
        first = next(rows, None)
        if first is None:
            return [], ()
        header = [cell.strip() for cell in first[1]]
        if len(header) > self.limits.table_columns:
            self.add(
                1, 1, "table-large", f"more than {self.limits.table_columns} columns", "leave out what is not asked"
            )
        lines = []
        for line, row in rows:
            lines.append(line)
            if len(row) != len(header):
                self.note_field_count(line, len(row), len(header))
            if len(lines) > self.limits.table_rows or len(self.problems) >= MOST_PROBLEMS:
                break
        if len(lines) > self.limits.table_rows:
            self.add(lines[-1], 1, "table-large", f"more than {self.limits.table_rows} rows", "shorten the table")
        if not lines and not self.problems:
            self.add(1, 1, "csv-no-rows", "no row follows the header", "add a row or remove the file")
        return header, tuple(lines)

    def note_field_count(self, line: int, got: int, wanted: int) -> None:
        fix = f"give {wanted} fields, separated by commas"
        if got > wanted:
            fix += "; write 31.5 for 31,5 and 1200 for 1,200, and put texts with a comma in quotes"
        self.add(line, 1, "csv-field-count", f"the header has {wanted} fields, this row {got}", fix)

    def find_columns(self, header: Sequence[str]) -> dict[Column, int]:
        names = [self.name_of(cell, k) for k, cell in enumerate(header)]
        self.note_round_brackets(header)
        self.stop_if_failed()
        places: dict[Column, int] = {}
        for column in self.wanted:
            given = header if column.header is not None else names
            found = [k for k, name in enumerate(given) if name == (column.header or column.name)]
            if len(found) > 1:
                self.add(1, found[1] + 1, "csv-column-doubled", f'two columns "{header[found[1]]}"', "keep one of them")
            elif found:
                places[column] = found[0]
            elif column.required:
                self.note_missing(column, given)
        if not self.extra:
            known = [column.name for column in self.wanted]
            for k in sorted(set(range(len(header))) - set(places.values())):
                if names[k] not in known:
                    message = f'unknown column "{shorten(header[k])}"'
                    self.add(1, k + 1, "csv-column-unknown", message, nearest(names[k], known))
        return places

    def name_of(self, cell: str, place: int) -> str:
        match = _HEADER.fullmatch(cell)
        if match is None and not self.extra:
            self.add(1, place + 1, "csv-header", f'the header cell "{shorten(cell)}"', "write it like held [m/s²]")
        return match["name"] if match else cell

    def note_round_brackets(self, header: Sequence[str]) -> None:
        """Object once to all units in round brackets, with the whole header as it should be."""
        known = {column.name for column in self.wanted if column.header is None}
        matches = [_ROUND.fullmatch(cell) for cell in header]
        wrong = {k: match for k, match in enumerate(matches) if match is not None and match["name"] in known}
        if wrong:
            cells = [
                f"{wrong[k]['name']} [{wrong[k]['unit']}]" if k in wrong else cell for k, cell in enumerate(header)
            ]
            first = min(wrong)
            message = f'the unit in the header cell "{shorten(header[first])}" stands in round brackets'
            self.add(1, first + 1, "csv-header", message, f"write the header {shorten(','.join(cells), 200)}")

    def note_missing(self, column: Column, given: Iterable[str]) -> None:
        wanted = column.header or column.name
        message = f'the column "{wanted}" is missing'
        self.add(1, 1, "csv-column-missing", message, f"the file has {', '.join(shorten(name) for name in given)}")

    def frame(self, text: str, count: int) -> Any:
        import pandas

        return pandas.read_csv(
            io.StringIO(text), header=0, names=range(count), index_col=False, dtype=object, na_filter=False, engine="c"
        )

    def cells(self, series: Any, column: Column, head: str, place: int, lines: Sequence[int]) -> Any:
        texts: list[str] = series.tolist()
        if column.kind is None:
            self.check_lengths(texts, place, lines)
            return [text.strip() for text in texts]
        factor = self.factor(head, column, place)
        if not _ALL_NUMBERS.fullmatch("\n".join(texts)):
            texts = self.checked_cells(texts, column, head, place, lines)
        values = np.array(texts, dtype=object).astype(float)
        scaled = values if factor is None else scale(values, factor)
        for k in np.flatnonzero(np.abs(scaled) > MOST)[:1]:
            self.note_cell(texts[k], column, head, lines[k], place)
        return scaled

    def check_lengths(self, texts: Sequence[str], place: int, lines: Sequence[int]) -> None:
        most = self.limits.text_characters
        for text, line in zip(texts, lines, strict=True):
            if len(text) > most and len(self.problems) < MOST_PROBLEMS:
                message = f"a text of {len(text)} characters; at most {most} are read"
                self.add(line, place + 1, "text-long", message, "shorten it; a long story stands in the write-up")

    def checked_cells(
        self, texts: Sequence[str], column: Column, head: str, place: int, lines: Sequence[int]
    ) -> list[str]:
        """Each cell as a number or nan, with a problem for each that is neither a number nor an allowed blank."""
        numbers = []
        for text, line in zip((text.strip() for text in texts), lines, strict=True):
            fine = NUMBER.fullmatch(text) is not None
            if not fine and not (column.blank and not text) and len(self.problems) < MOST_PROBLEMS:
                self.note_cell(text, column, head, line, place)
            numbers.append(text if fine else "nan")
        return numbers

    def factor(self, head: str, column: Column, place: int) -> Decimal | None:
        match = _HEADER.fullmatch(head)
        unit = (match["unit"] if match else "") or ""
        try:
            return parse_unit(unit, column.kind or "number")
        except QuantityError as error:
            name = f'the header cell "{shorten(head)}"'
            message = f"{name} has no unit" if error.code == "unit-missing" else f"{error.message} in {name}"
            self.add(1, place + 1, error.code, message, f"write it like {_with_unit(column, head)}")
            return None

    def note_cell(self, text: str, column: Column, head: str, line: int, place: int) -> None:
        what = f'"{shorten(text)}"' if text else "an empty cell"
        code = "csv-not-finite" if text.lower().lstrip("+-") in _NOT_A_NUMBER else "csv-not-a-number"
        self.add(line, place + 1, code, f'{what} in the column "{shorten(head)}"', _mend_cell(text, column))


def _mend_cell(text: str, column: Column) -> str:
    """What to write in place of a cell that is no number."""
    if _NUMBER_WITH_COMMA.fullmatch(text):
        return comma_error(text).fix
    means_none = not text.strip(_DASHES) or text.lower() in _NOT_A_NUMBER
    if column.blank and means_none:
        return "leave the cell empty"
    number = "a whole number like 3" if column.whole else "a number like 31.5"
    return f"write {number}, or {'leave the cell empty' if column.blank else 'remove the row'}"


def _example(column: Column) -> str:
    """A header cell well written for this column: ``held [m/s²]``."""
    return column.header or _with_unit(column, column.name)


def _with_unit(column: Column, head: str) -> str:
    """A header cell with a unit of the column's kind in place of its own, and where else a name of one's own stands."""
    unit = KINDS[column.kind].written_unit if column.kind else ""
    name = re.split(r"\s*[\[(]", head)[0]
    mended = f"{name} [{unit}]" if unit else name
    return mended if column.header is None else f"{mended}, here and under columns"


def _is_harmless(cell: str) -> bool:
    """Whether a cell with a sign is a number, dashes alone, or no number in a way that is told elsewhere."""
    is_sign = len(cell) == 1 or not cell.strip("-")
    return is_sign or NUMBER.fullmatch(cell) is not None or cell.lower().lstrip("+-") in _NOT_A_NUMBER
