"""CSV to SI: what RFC 4180 allows is read, what a data frame library would misread is refused with row and column."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.errors import FileProblems, Problem
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.tables import Column, Table, read_table

RUNS = (
    Column("held", "acceleration", blank=True),
    Column("lost", "acceleration", blank=True),
    Column("stopped", required=False),
    Column("order", "number", required=False, blank=True, whole=True),
)
TRACE = (Column("time", "time", header="t [ms]"), Column("acceleration", "acceleration", header="ax [g]"))


HEADER = "held [m/s²],lost [m/s²],stopped,order\n"


def read(
    text: str | bytes, columns: tuple[Column, ...] = RUNS, extra: bool = False, limits: Limits = DEFAULT_LIMITS
) -> Table:
    return read_table(text if isinstance(text, bytes) else text.encode(), "r.csv", columns, limits, extra)


def problems(text: str | bytes, columns: tuple[Column, ...] = RUNS, **options: object) -> tuple[Problem, ...]:
    with pytest.raises(FileProblems) as raised:
        read(text, columns, **options)  # type: ignore[arg-type]
    assert all(problem.message and problem.fix for problem in raised.value.problems)
    return raised.value.problems


def faults(text: str | bytes, columns: tuple[Column, ...] = RUNS, **options: object) -> list[tuple[str, int, int]]:
    return [(problem.code, problem.line, problem.column) for problem in problems(text, columns, **options)]


def test_figures_come_in_si_with_the_line_of_each_row() -> None:
    table = read("held [m/s²],lost [mm/s^2],stopped\n31,32500,\n\n 33 ,,heat\n")

    np.testing.assert_array_equal(table.numbers("held"), [31.0, 33.0])
    np.testing.assert_array_equal(table.numbers("lost"), [32.5, np.nan])
    assert table.texts("stopped") == ["", "heat"]
    assert table.lines == (2, 4)
    assert np.isnan(table.numbers("order")).all()


def test_the_form_of_rfc_4180_is_taken() -> None:
    # RFC 4180, section 2: CRLF, optional last line break, quoted fields with commas, quotes and line breaks
    text = 'stopped,"held [m/s²]",lost [m/s²]\r\n"heat, ""real""\r\nheat",31,\r\noperator,32,'

    table = read(text)

    assert table.texts("stopped") == ['heat, "real"\nheat', "operator"]
    assert table.lines == (2, 4)


def test_a_byte_order_mark_is_taken() -> None:
    assert len(read("\ufeffheld [m/s²],lost [m/s²]\n1,2\n")) == 1


def test_own_names_of_columns_and_columns_that_nobody_asked_for() -> None:
    table = read("t [ms],ax [g],ay [g]\n0,1,x\n1,2,y\n", TRACE, extra=True)

    np.testing.assert_array_equal(table.numbers("time"), [0.0, 0.001])
    np.testing.assert_array_equal(table.numbers("acceleration"), [9.80665, 19.6133])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("held [m/s²],lost [m/s²]\n77,5,78,0\n", [("csv-field-count", 2, 1)]),
        ("held [m/s²],lost [m/s²]\n1,2\n3\n", [("csv-field-count", 3, 1)]),
        ("held [m/s²];lost [m/s²]\n77,5;78,0\n", [("csv-semicolon", 1, 12)]),
        ("held [m/s²]\tlost [m/s²]\n1\t2\n", [("csv-semicolon", 1, 12)]),
        ("held,lost [m/s²]\n1,2\n", [("unit-missing", 1, 1)]),
        ("held [m/s²],lost [m/s]\n1,2\n", [("unit-wrong", 1, 2)]),
        ("held [m/s²],lost [furlong]\n1,2\n", [("unit-unknown", 1, 2)]),
        ("held [m/s²]\n1\n", [("csv-column-missing", 1, 1)]),
        ("held [m/s²],lost [m/s²],lsot [m/s²]\n1,2,3\n", [("csv-column-unknown", 1, 3)]),
        ("held [m/s²],lost [m/s²],held [m/s²]\n1,2,3\n", [("csv-column-doubled", 1, 3)]),
        ("held [m/s²,lost [m/s²]\n1,2\n", [("csv-header", 1, 1)]),
        ("held [m/s²],lost [m/s²]\n1,x\n", [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\n1,1 000\n", [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\n1,1_0\n", [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\n1,0x10\n", [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\n1,１\n", [("csv-not-a-number", 2, 2)]),
        ('held [m/s²],lost [m/s²]\n1,"2,5"\n', [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\n1,2e999\n", [("csv-not-a-number", 2, 2)]),
        ("held [m/s²],lost [m/s²]\nNaN,2\n1,inf\n", [("csv-not-finite", 2, 1), ("csv-not-finite", 3, 2)]),
        ("held [m/s²],lost [m/s²]\nN/A,-Infinity\n", [("csv-not-finite", 2, 1), ("csv-not-finite", 2, 2)]),
        ('held [m/s²],lost [m/s²]\n1,"2\n', [("csv-quotes", 2, 1)]),
        ('held [m/s²],lost [m/s²]\n1,"2"3\n', [("csv-quotes", 2, 1)]),
        ("held [m/s²],lost [m/s²]\n", [("csv-no-rows", 1, 1)]),
        ("", [("file-empty", 0, 0)]),
        (b"held [m/s\xb2],lost\n1,2\n", [("not-utf-8", 1, 1)]),
        ("held [m/s²],lost [m/s²]\n1,\x002\n", [("character-refused", 2, 1)]),
        ("held [m/s²],lost [m/s²]\r1,2\r", [("character-refused", 1, 1)]),
    ],
)
def test_faults_are_given_with_row_and_column(text: str | bytes, expected: list[tuple[str, int, int]]) -> None:
    assert faults(text) == expected


@pytest.mark.parametrize(
    ("text", "message", "fix"),
    [
        ("held,lost [m/s²]\n1,2\n", 'the header cell "held" has no unit', "write it like held [m/s²]"),
        (
            "held [m/s],lost [m/s²]\n1,2\n",
            'expected a unit of m/s², got "m/s" in the header cell "held [m/s]"',
            "write it like held [m/s²]",
        ),
        ("", "the file is empty", "start with the header held [m/s²],lost [m/s²]"),
        (
            "held (m/s²),lost (m/s²),order\n1,2,3\n",
            'the unit in the header cell "held (m/s²)" stands in round brackets',
            "write the header held [m/s²],lost [m/s²],order",
        ),
        (
            "stopped,held [m/s²],lost (m/s²)\nheat,1,\n",
            'the unit in the header cell "lost (m/s²)" stands in round brackets',
            "write the header stopped,held [m/s²],lost [m/s²]",
        ),
    ],
)
def test_what_a_header_lacks_is_said_with_its_unit(text: str, message: str, fix: str) -> None:
    (problem,) = problems(text)

    assert (problem.message, problem.fix) == (message, fix)


def test_a_speed_is_asked_for_as_people_write_it() -> None:
    with pytest.raises(FileProblems) as raised:
        read("", (Column("frequency", "frequency"), Column("speed", "speed"), Column("at", "number"), Column("note")))

    assert raised.value.problems[0].fix == "start with the header frequency [Hz],speed [mm/s],at,note"


@pytest.mark.parametrize(("head", "meant"), [("ax (g)", "ax [m/s²]"), ("ax [m]", "ax [m/s²]"), ("ax", "ax [m/s²]")])
def test_a_column_with_a_name_of_its_own_is_mended_in_both_places(head: str, meant: str) -> None:
    columns = (TRACE[0], Column("acceleration", "acceleration", header=head))

    (problem,) = problems(f"t [ms],{head}\n0,1\n", columns, extra=True)

    assert problem.fix == f"write it like {meant}, here and under columns"


@pytest.mark.parametrize(
    ("row", "fix"),
    [
        ("31,-,,", "leave the cell empty"),
        ("31,--,,", "leave the cell empty"),
        ("31,–,,", "leave the cell empty"),
        ("31,n/a,,", "leave the cell empty"),
        ("31,NaN,,", "leave the cell empty"),
        ("31,many,,", "write a number like 31.5, or leave the cell empty"),
        ("31,32,,first", "write a whole number like 3, or leave the cell empty"),
        ('31,"32,5",,', "write 32.5"),
        ('31,"1,200",,', "write 1200 if the comma groups thousands, 1.200 if it is a decimal comma"),
    ],
)
def test_a_cell_is_mended_as_its_column_allows(row: str, fix: str) -> None:
    (problem,) = problems(f"{HEADER}{row}\n")

    assert (problem.line, problem.fix) == (2, fix)


def test_a_cell_that_may_not_be_blank_is_mended_otherwise() -> None:
    (dash,) = problems("t [ms],ax [g]\n0,-\n", TRACE)
    (count,) = problems("at [m],lost\n1,x\n", (Column("at", "length"), Column("lost", "number", whole=True)))

    assert dash.fix == "write a number like 31.5, or remove the row"
    assert count.fix == "write a whole number like 3, or remove the row"


@pytest.mark.parametrize("start", [b"PK\x03\x04\x14\0\x06\0", bytes.fromhex("d0cf11e0a1b11ae1")])
def test_a_spreadsheet_s_own_file_is_told_as_one(start: bytes) -> None:
    (problem,) = problems(start + bytes(range(200)))

    assert (problem.code, problem.line) == ("csv-spreadsheet", 0)
    assert problem.fix.startswith("export the sheet as CSV")


def test_a_comma_that_parts_a_number_is_mended_in_both_its_meanings() -> None:
    (problem,) = problems("held [m/s²],lost [m/s²]\n1,200,1,300\n")

    assert "write 31.5 for 31,5 and 1200 for 1,200" in problem.fix


def test_a_blank_cell_is_an_error_where_none_is_allowed() -> None:
    assert faults("t [ms],ax [g]\n0,\n", TRACE) == [("csv-not-a-number", 2, 2)]


def test_all_faulty_cells_are_given_up_to_twenty() -> None:
    text = "held [m/s²],lost [m/s²]\n" + "x,y\n" * 50

    assert len(faults(text)) == 20


def test_rows_and_columns_are_limited() -> None:
    assert faults("held [m/s²],lost [m/s²]\n" + "1,2\n" * 4, limits=Limits(table_rows=3)) == [("table-large", 5, 1)]
    assert faults("a,b,c\n1,2,3\n", limits=Limits(table_columns=2)) == [("table-large", 1, 1)]


def test_rows_in_a_quoted_field_do_not_shift_the_lines_of_faults() -> None:
    text = 'stopped,held [m/s²],lost [m/s²]\n"a\nb\nc",1,2\n,1,x\n'

    assert faults(text) == [("csv-not-a-number", 5, 3)]


NUMBERS = st.floats(-1e6, 1e6).map(lambda x: f"{x:.9g}")
CELLS = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]) | st.just("\n"), max_size=12).filter(
    lambda text: not text.strip().startswith(("=", "+", "-", "@"))  # refused as formulas, which has its own test
)


@given(st.lists(st.tuples(NUMBERS, CELLS), min_size=1, max_size=12))
def test_tables_that_the_standard_library_writes_are_read_back(rows: list[tuple[str, str]]) -> None:
    written = io.StringIO()
    csv.writer(written, lineterminator="\r\n").writerows([("held [m/s²]", "note"), *rows])

    table = read(written.getvalue(), (Column("held", "acceleration"), Column("note")))

    np.testing.assert_array_equal(table.numbers("held"), [float(number) for number, _ in rows])
    assert list(table.texts("note")) == [text.strip() for _, text in rows]


@given(st.text(max_size=200) | st.text('held lost[m/s²],;\n\r"0123.5-', max_size=200))
def test_any_text_gives_finite_figures_or_problems(text: str) -> None:
    for start in ("", "held [m/s²],lost [m/s²]\n"):
        try:
            table = read((start + text).encode("utf-8", "surrogatepass"))
        except FileProblems as error:
            assert error.problems
        else:
            assert all(math.isfinite(x) or math.isnan(x) for x in table.numbers("held"))
