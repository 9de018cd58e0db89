"""Numbers in lines: exact to the last bit by both readers, faults found by line and column."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.formats.number_text import (
    COMPILED_FROM,
    NumberLayout,
    compiled_table,
    parsed_lines,
    plain_number,
    table_by_line,
)
from tests.formats.examples import bits

ONE = NumberLayout(("sample",))
THREE = NumberLayout(("time", "force", "moment"), ";", ",", "#")


def both_readers(text: str, layout: NumberLayout = ONE) -> tuple[np.ndarray, np.ndarray]:
    """Read a text with the compiled reader and line by line."""
    compiled = compiled_table(text.encode(), layout)
    assert compiled is not None
    return compiled, table_by_line(text.encode(), layout, file="run.csv", first_line=1)


decimal_texts = st.builds(
    "{}{}{}{}".format,
    st.sampled_from(["", "-", "+"]),
    st.text("0123456789", min_size=1, max_size=25),
    st.builds("{}{}".format, st.sampled_from(["", "."]), st.text("0123456789", max_size=25)),
    st.just("")
    | st.builds("{}{}".format, st.sampled_from(["e", "E", "e-", "e+", "E-0"]), st.integers(0, 330)),
)


@given(st.lists(decimal_texts, min_size=1, max_size=60))
def test_compiled_reader_rounds_as_the_library_does(texts: list[str]) -> None:
    """Every spelling gives the float64 that Python's correctly rounding reader gives, to the bit."""
    finite = [text for text in texts if np.isfinite(float(text))]
    compiled = compiled_table("".join(f"{text}\n" for text in finite).encode(), ONE)
    assert compiled is not None
    np.testing.assert_array_equal(bits(compiled[0]), bits([float(text) for text in finite]))


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=60))
def test_shortest_spelling_of_any_float_reads_back(values: list[float]) -> None:
    """Subnormal, huge and signed zero included."""
    compiled, by_line = both_readers("".join(f"{value!r}\r\n" for value in values))
    np.testing.assert_array_equal(bits(compiled[0]), bits(values))
    np.testing.assert_array_equal(bits(by_line[0]), bits(values))


@given(st.integers(2**52, 2**55) | st.integers(2**53, 10**19 - 1), st.integers(0, 22))
def test_long_integers_over_powers_of_ten(mantissa: int, places: int) -> None:
    """Where one division is not exact, the compiled reader proves its rounding or leaves the cell."""
    text = f"{mantissa}e-{places}"
    compiled, _ = both_readers(text)
    assert compiled[0, 0].hex() == (mantissa / 10**places).hex()  # int / int rounds correctly


@given(
    st.lists(
        st.tuples(st.integers(1, 2**53), st.integers(-25, -20) | st.integers(20, 25)),
        min_size=20,
        max_size=40,
    )
)
def test_powers_of_ten_where_they_stop_being_exact(parts: list[tuple[int, int]]) -> None:
    """Ten to the power 22 is the last that a float64 holds exactly."""
    texts = [f"{mantissa}e{exponent}" for mantissa, exponent in parts]
    compiled, _ = both_readers("\n".join(texts))
    np.testing.assert_array_equal(bits(compiled[0]), bits([float(text) for text in texts]))


@given(
    st.lists(
        st.tuples(st.integers(42, 50), st.integers(0, 2**53), st.sampled_from([-1, 1])),
        min_size=20,
        max_size=40,
    )
)
def test_quotients_next_to_a_tie(parts: list[tuple[int, int, int]]) -> None:
    """Integers over 10^22 that miss the middle between two float64 by 1 part in about 2^104.

    The middle is an odd 54-bit integer ``u`` over a power of two. Where ``u·5^22 ≡ ∓1`` modulo ``2^s``, the
    integer ``w = (u·5^22 ± 1) / 2^s`` gives such a quotient (derived here).
    """
    expected = []
    texts = []
    for power, upper, miss in parts:
        odd = -miss * pow(5**22, -1, 2**power) % 2**power
        middle = 2**53 + (upper >> power << power) + odd
        mantissa, rest = divmod(middle * 5**22 + miss, 2**power)
        assert rest == 0
        if mantissa < 10**19:
            texts.append(f"{mantissa}e-22")
            expected.append(mantissa / 10**22)  # int / int rounds correctly
    compiled = compiled_table("".join(f"{text}\n" for text in texts).encode(), ONE)
    assert compiled is not None
    np.testing.assert_array_equal(bits(compiled[0]), bits(expected))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9007199254740993", "0x1.0000000000000p+53"),  # 2^53 + 1: a tie, to even
        ("9007199254740995", "0x1.0000000000002p+53"),  # 2^53 + 3: a tie, to even
        ("9007199254740993.1", "0x1.0000000000001p+53"),
        ("900719925474099.3125", "0x1.999999999999ap+49"),  # 900719925474099.3125 = (2^53 + 1)/10 + 0.0125
        ("4.9406564584124654e-324", "0x0.0000000000001p-1022"),
        ("2.2250738585072014e-308", "0x1.0000000000000p-1022"),
        ("1.7976931348623157e308", "0x1.fffffffffffffp+1023"),
        ("-0.0", "-0x0.0p+0"),
        (".5", "0x1.0000000000000p-1"),
        ("5.", "0x1.4000000000000p+2"),
        ("+1E2", "0x1.9000000000000p+6"),
    ],
)
def test_known_values(text: str, value: str) -> None:
    """Ties, the ends of the range (IEEE 754-2019, table 3.5) and rare spellings, worked out by hand."""
    compiled, by_line = both_readers(text + "\n")
    assert compiled[0, 0].hex() == by_line[0, 0].hex() == float.fromhex(value).hex()


def test_rows_and_columns_with_decimal_commas() -> None:
    """Blanks around cells, comments and blank lines are passed over; the order is columns by rows."""
    text = "# from the rig\n0,5; -1 ;2e3\r\n\r\n  # more\n1,5;\t3,25;-4\n"
    for table in both_readers(text, THREE):
        np.testing.assert_array_equal(table, [[0.5, 1.5], [-1.0, 3.25], [2000.0, -4.0]])


def test_tab_between_cells_is_no_blank() -> None:
    """An empty cell between tabs is found."""
    layout = NumberLayout(("a", "b"), "\t")
    for table in both_readers("1\t2\n3 \t 4\n", layout):
        np.testing.assert_array_equal(table, [[1, 3], [2, 4]])
    with pytest.raises(FormatError, match=r"run\.csv, line 9, column 1 \('a'\): the cell is empty"):
        parsed_lines(b"\t2\n", layout, file="run.csv", first_line=9)


@pytest.mark.parametrize("rows", [3, COMPILED_FROM // len("1;2;3\n") + 1], ids=["short text", "long text"])
@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("1;abc;3", r", column 2 \('force'\): 'abc' is not a number with the decimal mark ','"),
        ("1;;3", r", column 2 \('force'\): the cell is empty"),
        ("1;2;NaN", r", column 3 \('moment'\): 'NaN' is not a finite number"),
        ("1;-inf;3", r", column 2 \('force'\): '-inf' is not a finite number"),
        ("1;1e999;3", r", column 2 \('force'\): '1e999' is not a finite number"),
        ("1;2.5;3", r", column 2 \('force'\): '2\.5' is not a number with the decimal mark ','"),
        ("1;1_000;3", r", column 2 \('force'\): '1_000' is not a number"),
        ("1;1 000;3", r", column 2 \('force'\): '1 000' is not a number"),
        ("1;1e;3", r", column 2 \('force'\): '1e' is not a number"),
        ("1;0x10;3", r", column 2 \('force'\): '0x10' is not a number"),
        ("1;٣;3", r", column 2 \('force'\): '٣' is not a number"),
        ("1;2", ": the line has 2 cells, the header 3; give every line one number for each column"),
        ("1", ": the line has 1 cell, the header 3"),
        ("1;2;3;4", ": the line has 4 cells, the header 3"),
        ("1;2;3;;", ": the line has 5 cells, the header 3"),
    ],
)
def test_bad_line_is_found(rows: int, line: str, sentence: str) -> None:
    """The sentence names file, line and column, however long the text is."""
    text = "1;2;3\n" * rows + "\n# comment\n" + line + "\n" + "4;5;6\n"
    with pytest.raises(FormatError, match=rf"^run\.csv, line {rows + 7}{sentence}"):
        parsed_lines(text.encode(), THREE, file="run.csv", first_line=5)


def test_comment_is_no_sample_where_there_are_none() -> None:
    """A column without comments takes '#' for a fault."""
    with pytest.raises(FormatError, match=r"run\.001, line 2: '# two' is not a number"):
        parsed_lines(b"1\n# two\n", ONE, file="run.001", first_line=1)


def test_arrays_cannot_be_written_to_and_columns_are_contiguous() -> None:
    """So that a signal can take them without a copy."""
    table = parsed_lines(b"1;2;3\n4;5;6\n", THREE, file="run.csv", first_line=1)
    assert not table.flags.writeable
    assert table[1].flags.c_contiguous


def test_no_line_at_all_gives_an_empty_table() -> None:
    """Comments and blank lines alone are no rows."""
    for table in both_readers("# nothing\n\n", THREE):
        assert table.shape == (3, 0)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1", 1.0),
        (" -2.5e3 ", -2500.0),
        ("1,5", None),
        ("1_0", None),
        ("", None),
        ("one", None),
        ("１", None),
    ],
)
def test_plain_number(text: str, number: float | None) -> None:
    """Only plain decimal and scientific notation counts."""
    assert plain_number(text) == number
