"""The table of the terminal: whatever the width, no word is lost or cut and no line is too long."""

from __future__ import annotations

from io import StringIO

from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from rich.text import Text

from correlate.report.table import Justify, TextTable

WORDS = st.text("abcdefghij", min_size=1, max_size=12)
TEXT = st.lists(WORDS, max_size=12).map(" ".join)
NUMBER = st.integers(0, 10**6).map(str)


def printed(table: TextTable, width: int) -> list[str]:
    """Return the lines of a table at a width."""
    text = StringIO()
    Console(file=text, width=width).print(table)
    return [line.rstrip() for line in text.getvalue().splitlines()]


@given(
    rows=st.lists(st.tuples(TEXT, NUMBER, TEXT, NUMBER, TEXT), min_size=1),
    width=st.integers(40, 160),
)
def test_every_word_is_there_at_every_width(rows: list[tuple[str, ...]], width: int) -> None:
    """And no line is longer than the terminal."""
    table = TextTable()
    for heading in ("what", "count", "why", "sum", "note"):
        justify: Justify = "right" if heading in {"count", "sum"} else "left"
        table.add_column(heading, justify=justify, is_text=heading in {"why", "note"})
    for row in rows:
        table.add_row(*row)
    lines = printed(table, width)
    assert max(map(len, lines)) <= width
    words = {word.removesuffix(":") for line in lines for word in line.split()}
    assert {word for row in rows for cell in row for word in cell.split()} <= words


def scores(width: int) -> list[str]:
    """Return a table of two rows with a remark."""
    table = TextTable()
    table.add_column("channel")
    table.add_column("score", justify="right")
    table.add_column("95 % interval")
    table.add_column("remark", is_text=True)
    table.add_row("  upper neck force", "0.123", "+0.1 to +0.2", "within the scatter of the hardware, mostly")
    table.add_row("head", "1.000", "–")
    return printed(table, width)


def test_text_stands_beside_the_numbers_or_under_them() -> None:
    """Where there is room it is a column; else it goes under its row, with its heading."""
    assert scores(90)[:2] == [
        "channel             score  95 % interval  remark",
        "  upper neck force  0.123  +0.1 to +0.2   within the scatter of the hardware, mostly",
    ]
    assert scores(60) == [
        "channel             score  95 % interval",
        "    remark",
        "  upper neck force  0.123  +0.1 to +0.2",
        "      within the scatter of the hardware, mostly",
        "head                1.000  –",
    ]


def test_wrapped_lines_keep_their_indent_and_numbers_stay_whole() -> None:
    """The name gives way, between words."""
    assert scores(36) == [
        "channel         score  95 % interval",
        "    remark",
        "  upper neck    0.123  +0.1 to +0.2",
        "  force",
        "      within the scatter of the",
        "      hardware, mostly",
        "head            1.000  –",
    ]


def test_many_columns_of_numbers_come_in_parts() -> None:
    """Each part begins with what says what a row is."""
    table = TextTable(keys=2)
    for heading in ("quantity", "unit"):
        table.add_column(heading)
    for number in range(5):
        table.add_column(f"TEST_{number}", justify="right")
    table.add_row("force", "N", *"12345")
    assert printed(table, 32) == [
        "quantity  unit  TEST_0  TEST_1",
        "force     N          1       2",
        "",
        "quantity  unit  TEST_2  TEST_3",
        "force     N          3       4",
        "",
        "quantity  unit  TEST_4",
        "force     N          5",
    ]


def test_lines_with_room_are_printed_as_the_layout_of_the_library_prints_them() -> None:
    """With their style where the terminal has one, and characters of two cells count as two."""
    table = TextTable(title="title")
    table.add_column("what")
    table.add_column("count", justify="right")
    table.add_row("  head 0.1–0.2", "1", style="bold")
    table.add_row("")
    table.add_row("頭" * 9, "2")
    lines = [
        Text("title", style="italic"),
        Text("what            count", style="bold"),
        Text("  head 0.1–0.2      1", style="bold"),
        Text(""),
        Text("頭" * 9 + "           2"),
    ]
    ours, peer = StringIO(), StringIO()
    Console(file=ours, width=22, force_terminal=True, color_system="standard").print(table)
    Console(file=peer, width=22, force_terminal=True, color_system="standard").print(*lines, sep="\n")
    assert ours.getvalue() == peer.getvalue()
