"""Header lines of ISO/TS 13499: keys, values, places in messages."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.formats.iso13499.channel_file import header_text, parsed_header
from correlate.formats.text import text_lines

keys = st.text(st.characters(exclude_categories=["C", "Z"], exclude_characters=":"), min_size=1)
values = st.text(st.characters(exclude_categories=["Cs"])).map(
    lambda text: "\n".join(line.strip() for line in text.split("\n"))
)


def test_lines_become_keys_and_values_in_order() -> None:
    """Blanks around both go, a colon in the value stays, a repeated key keeps all its texts."""
    lines = ["Title   :  head drop  ", "", "Comment :one", "Time of day : 12:30", "Comment:two", "Empty :"]
    header = parsed_header(lines, file="KM3.mme")
    assert list(header.values.items()) == [
        ("Title", "head drop"),
        ("Comment", "one\ntwo"),
        ("Time of day", "12:30"),
        ("Empty", ""),
    ]
    assert header.where("Time of day") == "KM3.mme, line 4"
    assert header.where("Number of samples") == "KM3.mme"


@pytest.mark.parametrize("line", ["Title head drop", "  :value"])
def test_line_without_key_or_colon_is_passed_over_with_a_warning(line: str) -> None:
    """File and line are named."""
    header = parsed_header(["Title : a", line, "Type : b"], file="KM3.mme")
    assert header.values == {"Title": "a", "Type": "b"}
    [sentence] = header.odd
    assert re.match(r"KM3\.mme, line 2: '.+' is not of the form 'key : value' and was ignored", sentence)


def test_novalue_counts_as_not_given() -> None:
    """The word of the standard for "not given" is no text."""
    header = parsed_header(["Unit : NoValue", "Number of samples : many"], file="KM3.001")
    assert header.text("Unit") == header.text("Channel code") == ""
    with pytest.raises(
        FormatError, match=r"KM3\.001, line 1: 'Unit' is not given; write the line 'Unit : …'"
    ):
        header.needed("Unit")
    with pytest.raises(FormatError, match=r"KM3\.001: 'Sampling interval' is not given"):
        header.number("Sampling interval")
    with pytest.raises(FormatError, match=r"line 2: 'Number of samples' is 'many', which is not a number"):
        header.number("Number of samples")


def test_keys_are_padded_to_28_characters() -> None:
    """The layout of the standard, typed by hand; a longer key pushes its colon on."""
    written = header_text({"Unit": "g", "x" * 30: "1", " Comment ": "a\n b "}, file="KM3.001")
    assert written == (
        "Unit                        :g\r\n"
        "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxx:1\r\n"
        "Comment                     :a\r\n"
        "Comment                     :b\r\n"
    )


@pytest.mark.parametrize("key", ["", "  ", "a:b", "a\nb", "a\tb"])
def test_key_that_could_not_be_read_is_not_written(key: str) -> None:
    """Nothing is written that the reader would take for something else."""
    with pytest.raises(FormatError, match=r"KM3\.mme: '.*' cannot be a key; use one line"):
        header_text({key: "x"}, file="KM3.mme")


@given(st.dictionaries(keys, values, max_size=8))
def test_any_header_is_read_back(lines: dict[str, str]) -> None:
    """Keys, texts and order survive."""
    header = parsed_header(text_lines(header_text(lines, file="a")), file="a")
    assert list(header.values.items()) == list(lines.items())
