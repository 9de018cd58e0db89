"""The 16-character channel codes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import ChannelError

ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789?"


def test_fields_by_position() -> None:
    """Every field is where the table of ISO/TS 13499 (from memory) puts it."""
    code = ChannelCode("13FEMRLE00KMFOZB")
    assert (code.test_object, code.position, code.main_location) == ("1", "3", "FEMR")
    assert code.fine_locations == ("LE", "00", "KM")
    assert (code.dimension, code.direction, code.filter_letter) == ("FO", "Z", "B")
    assert code.sensor == "13FEMRLE00KMFO"


@given(st.text(ALPHABET, min_size=16, max_size=16))
def test_fields_join_to_the_code(text: str) -> None:
    """No character is lost and none is read twice."""
    code = ChannelCode(text)
    fields = [code.test_object, code.position, code.main_location, *code.fine_locations, code.dimension]
    assert "".join([*fields, code.direction, code.filter_letter]) == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("D0HEAD0000KMACXP", "head acceleration X"),
        ("D0NECKUP00KMMOYB", "upper neck moment Y"),
        ("D0FEMRLE00KMFOZB", "left femur force Z"),
        ("D0TIBIRILOKMMOYB", "right lower tibia moment Y"),
        ("D0HEAD0000KMACRA", "head acceleration resultant"),
        ("D0CHST0000KMDS0C", "chest displacement"),
        ("D0XYZW0000KMQQX0", "XYZW QQ X"),
    ],
)
def test_words(text: str, words: str) -> None:
    """A code in words; what the tables do not know stays as it is written."""
    assert ChannelCode(text).describe() == words


def test_unknown_dimension_is_a_code_but_not_known() -> None:
    """Such a channel is kept by readers, with a warning."""
    assert not ChannelCode("D0HEAD0000KMQQX0").is_known
    assert not is_channel_code("D0HEAD0000KMQQX0")
    assert is_channel_code("D0HEAD0000KMACX0")


@pytest.mark.parametrize("text", ["", "head ax", "D0HEAD0000KMACX", "D0HEAD0000KMACX00"])
def test_wrong_length_is_refused(text: str) -> None:
    """The message counts the characters."""
    with pytest.raises(ChannelError, match=rf"'{text}' has {len(text)} characters; a code has 16"):
        ChannelCode(text)
    assert not is_channel_code(text)


@pytest.mark.parametrize("mark", [" ", "-", "ä", "²", "."])
def test_other_marks_are_refused(mark: str) -> None:
    """Letters and digits of ASCII and the question mark, nothing else."""
    with pytest.raises(ChannelError, match="contains a character that is not a letter, digit or"):
        ChannelCode(f"D0HEAD0000KMACX{mark}")
    assert not is_channel_code(f"D0HEAD0000KMACX{mark}")
