"""CSV to SI: what RFC 4180 allows is read, what a data frame library would misread is refused with row and column."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.errors import FileProblems
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.tables import Column, Table, read_table

RUNS = (
    Column("held", "acceleration", blank=True),
    Column("lost", "acceleration", blank=True),
    Column("stopped", required=False),
    Column("order", "number", required=False, blank=True),
)
TRACE = (Column("time", "time", header="t [ms]"), Column("acceleration", "acceleration", header="ax [g]"))


def read(
    text: str | bytes, columns: tuple[Column, ...] = RUNS, extra: bool = False, limits: Limits = DEFAULT_LIMITS
) -> Table:
    return read_table(text if isinstance(text, bytes) else text.encode(), "r.csv", columns, limits, extra)


def faults(text: str | bytes, columns: tuple[Column, ...] = RUNS, **options: object) -> list[tuple[str, int, int]]:
    with pytest.raises(FileProblems) as raised:
        read(text, columns, **options)  # type: ignore[arg-type]
    assert all(problem.message and problem.fix for problem in raised.value.problems)
    return [(problem.code, problem.line, problem.column) for problem in raised.value.problems]


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
    ],
)
def test_what_a_header_lacks_is_said_with_its_unit(text: str, message: str, fix: str) -> None:
    with pytest.raises(FileProblems) as raised:
        read(text)
    (problem,) = raised.value.problems

    assert (problem.message, problem.fix) == (message, fix)


def test_a_speed_is_asked_for_as_people_write_it() -> None:
    with pytest.raises(FileProblems) as raised:
        read("", (Column("frequency", "frequency"), Column("speed", "speed"), Column("at", "number"), Column("note")))

    assert raised.value.problems[0].fix == "start with the header frequency [Hz],speed [mm/s],at,note"


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
