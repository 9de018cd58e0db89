"""Text on disk: encodings, what looks like text, files that appear completely or not at all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.formats.text import decoded, encoded, looks_like_text, shortened, text_lines


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"angle [\xb0]", "angle [°]"),
        (b"angle [\xc2\xb0]", "angle [°]"),
        (b"\xef\xbb\xbfangle [\xc2\xb0]", "angle [°]"),
        (b"", ""),
    ],
    ids=["ISO 8859-1", "UTF-8", "UTF-8 with mark", "empty"],
)
def test_bytes_become_the_same_text_in_every_encoding(data: bytes, text: str) -> None:
    """The degree sign is read in all three encodings."""
    assert decoded(data) == text


@given(st.text(st.characters(exclude_categories=["Cs"])).filter(lambda text: not text.startswith("\ufeff")))
def test_any_text_is_written_and_read_back(text: str) -> None:
    """Whatever encoding is chosen, reading gives the text again."""
    assert decoded(encoded(text)) == text


def test_text_that_only_looks_like_utf8_is_written_in_utf8() -> None:
    """Two letters whose ISO 8859-1 bytes are one letter in UTF-8 do not become that letter."""
    assert encoded("Â°") == "Â°".encode()
    assert encoded("°") == b"\xb0"


@pytest.mark.parametrize(
    ("data", "verdict"),
    [
        (b"a;b\r\n\t1", True),
        ("µ".encode("latin-1"), True),
        (b"", False),
        (b"a\0b", False),
        (b"\x7fELF", False),
    ],
)
def test_text_is_told_from_binary(data: bytes, verdict: bool) -> None:  # noqa: FBT001 - a case of the table
    """Control characters other than tab and line ends mean binary."""
    assert looks_like_text(data) is verdict


def test_lines_end_in_two_ways_only() -> None:
    """Unicode's rarer line ends stay within the line."""
    assert text_lines("a\r\nb\x85c\u2028d\n\ne") == ["a", "b\x85c\u2028d", "", "e"]
    assert text_lines("") == []


def test_long_or_odd_text_is_quoted_on_one_short_line() -> None:
    """Quotes in messages stay readable."""
    assert shortened("  ab\0c\n") == "ab·c"
    assert shortened("x" * 50) == "x" * 40 + "…"
