"""Names that look alike: what counts as one name, and what nobody can read as it is written."""

from __future__ import annotations

import pytest

from correlate.spelling import alike, look_of, one_spelling, unclear

CYRILLIC_A = "\u0410"


@pytest.mark.parametrize(
    "other",
    ["a3", "\uff213", "\uff41\uff13", "A\u200b3", "\u202dA3\u202c", "A\ufe0f3", "A\u00ad3", " A3 ",
     "\U0001d4003"],
)  # fmt: skip
def test_one_name_in_several_spellings(other: str) -> None:
    """Wide and mathematical letters, other case, signs of no width, reversed order, space around it."""
    assert one_spelling(other) == one_spelling("A3")


def test_an_accent_in_one_sign_or_two() -> None:
    """The composed and the decomposed form are one name; without the accent it is another."""
    assert one_spelling("Crépe") == one_spelling("Cre\u0301pe")
    assert one_spelling("Crépe") != one_spelling("Crepe")


@pytest.mark.parametrize("other", ["\u04103", "\u0391" + "3", "\u0430" + "3"])
def test_letters_of_other_scripts_that_look_alike(other: str) -> None:
    """Cyrillic and Greek A differ in spelling and not in look."""
    assert one_spelling(other) != one_spelling("A3")
    assert look_of(other) == look_of("A3")


def test_names_that_are_different_stay_different() -> None:
    """What a person tells apart is not taken for one name."""
    assert alike(["A1", "A2", "A10", "B1", "a-1", "a_1", "a.1", "Ä1", "1A", "É", "E", "ß1"]) is None


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("A\u200b3", "holds U+200B, which is invisible"),
        ("A\u202e3", "holds U+202E, which is invisible"),
        ("A\ufe0f", "holds U+FE0F, which is invisible"),
        ("A\x003", "holds U+0000, which is invisible"),
        ("\u0421ab", "mixes Latin and Cyrillic letters in one word (U+0421 U+0061 U+0062)"),
        ("Mod\u0391", "mixes Latin and Greek letters in one word (U+004D U+006F U+0064 U+0391)"),
    ],
)
def test_what_cannot_be_read_as_it_is_written(name: str, why: str) -> None:
    """The sign, or the word, is named by code point."""
    assert unclear(name) == why


@pytest.mark.parametrize(
    "name", ["A3", "Übung-3", "Модель_3", "Δt", "αx", "µm", "模型A3", "モデルA", "A3.1+b", "3°"]
)
def test_names_that_people_use_are_clear(name: str) -> None:
    """Accents, whole words of another script, symbols of physics, and Japanese with Latin letters."""
    assert unclear(name) == ""
