"""Mistakes in a channel book: each with the file and the line where it stands, all at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Write = Callable[..., Path]

CASE = """
[[load_case]]
name = "head"
tests = ["t/*"]
interval_ms = [0, 10]
"""
CHANNEL = '[[channel]]\ntest = "D0HEAD0000KMACXP"\n'
INCLUDE = 'include = ["books/a.toml"]\n#\n'


def message(path: Path) -> str:
    """Return what is said of a campaign file, from the number of mistakes on."""
    with pytest.raises(FormatError) as caught:
        load_campaign(path)
    assert str(path) in str(caught.value)
    return str(caught.value).removeprefix(f"{path}: ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"#\n{CHANNEL}cfc = 200\n{CASE}", "1 mistake: line 10, channel.cfc: "),
        (
            f"#\n{CHANNEL}cfcc = 200\n{CASE}",
            "1 mistake: line 10, channel.cfcc: there is no such key; did you",
        ),
        (
            f'#\n{CHANNEL}cfc = "x"\n{CASE}',
            "1 mistake: line 10, channel.cfc: input should be a valid integer",
        ),
        (f"#\n{CHANNEL}model_unit = 'x'\n{CASE}", "1 mistake: line 10, channel.model_unit: the unit 'x'"),
        (f"#\n{CHANNEL}test_offset_ms = [5, 1]\n{CASE}", "1 mistake: line 10, channel.test_offset_ms: "),
        (f"#\n{CHANNEL}model_axis = 'x'\n{CASE}", "1 mistake: line 8, channel: 'model_axis' and '{axis}'"),
        (f"#\n{CHANNEL}quantity = 'forse'\n{CASE}", "1 mistake: line 10, channel.quantity: 'forse' is no "),
        (f"#\n{CHANNEL}quantity = 'force'\n{CASE}", "1 mistake: line 8, channel: the code says acceleration"),
        (f"#\n[[channel]]\ntest = 'a'\n{CASE}", "1 mistake: line 8, channel.region: this key is missing"),
        (
            f"channel = [\n {{test = 'D0HEAD0000KMACXP'}},\n {{test = 'a'}},\n]\n#\n{CASE}",
            "1 mistake: line 3, ch",
        ),
        (
            f"#\n{CHANNEL}[[default]]\ntest = '*'\ncfc = 7\n{CASE}",
            "1 mistake: line 12, default.cfc: ",
        ),
        (
            f"#\n{CHANNEL}[[default]]\ncfc = 60\n{CASE}",
            "1 mistake: line 10, default: name the channels under",
        ),
        (
            f"#\n{CHANNEL}[every_load_case]\nstep_ms = -1\n{CASE}",
            "1 mistake: line 11, every_load_case.step_ms: ",
        ),
        (
            f"#\n{CHANNEL}[every_load_case]\ntitle = ''\n{CASE}",
            "1 mistake: line 11, every_load_case.title: there",
        ),
        (
            f'#\n{CHANNEL}{CASE}channels = [\n"D0HEAD0000KMACYP",\n"*"]\n',
            "line 16, load_case.channels: no channel of the book is called 'D0HEAD0000KMACYP'; did you mean ",
        ),
        (
            f'#\n{CHANNEL}{CASE}regions = ["hat"]\n',
            "1 mistake: line 15, load_case.regions: no channel of the book counts for the region 'hat'",
        ),
        (
            f'#\n{CHANNEL}[every_load_case]\nregions = ["leg"]\n{CASE}',
            "1 mistake: line 11, every_load_case.regions: no channel of the book counts for",
        ),
        (
            f'#\n{CHANNEL}{CASE}channels = ["*"]\n[[load_case.channel]]\ntest = "D0HEAD0000KMACXP"\n',
            "line 16, load_case.channel: channel 'D0HEAD0000KMACXP' comes from the book as well; change",
        ),
        (
            f'#\n{CHANNEL}{CASE}[[load_case.override]]\ntest = "*FO*"\ncfc = 60\n',
            "1 mistake: line 15, load_case.override: this override is unused: no channel of the load case",
        ),
        (
            f"#\n{CHANNEL}{CASE}[[load_case.override]]\ntest = '*'\ncfc = 7\n",
            "1 mistake: line 17, load_case.override.cfc: ",
        ),
        (
            f"#\n{CHANNEL}{CASE}[[load_case.override]]\ntest = '*'\nmodl = ''\n",
            "1 mistake: line 17, load_case.override.modl: there is no such key; did you mean 'model'?",
        ),
        (
            f"#\n{CHANNEL}{CASE}overide = 1\n",
            "line 15, load_case.overide: there is no such key; did you mean 'override'",
        ),
        (
            f"#\n{CHANNEL}\n{CHANNEL}{CASE}",
            "1 mistake: line 11, channel: channel 'D0HEAD0000KMACXP' is defined twice; ",
        ),
        (f"include = 'a'\n#\n{CHANNEL}{CASE}", "1 mistake: line 1, include: input should be a valid list"),
        (
            f"include = [\n'books/a.toml']\n#\n{CHANNEL}{CASE}",
            "1 mistake: line 2, include: 'books/a.toml' cannot be read",
        ),
        (
            f"include = ['ready-made/hat']\n#\n{CHANNEL}{CASE}",
            "1 mistake: line 1, include: 'ready-made/hat' is not a ready-made book; known are ",
        ),
        (
            f"#\n{CHANNEL}region = ['head']\n{CASE}",
            "1 mistake: line 10, channel.region: input should be a valid string",
        ),
        (f"channel = 3\n#\n{CASE}", "line 1, channel: input should be a valid list"),
        ("load_case = 3\n#\n", "1 mistake: line 1, load_case: input should be a valid list"),
        (f"#\n{CASE}", "1 mistake: line 9, load_case.channel: this key is missing"),
    ],
)
def test_a_mistake_is_named_with_its_line(write: Write, text: str, said: str) -> None:
    """Once, however many load cases it reaches, and nothing that only follows from it."""
    found = message(write(text))
    assert said in found


@pytest.mark.parametrize(
    ("book", "said"),
    [
        (f"{CHANNEL}\ncfc = 7", "1 mistake: books/a.toml, line 4, channel.cfc: "),
        (CHANNEL + "x = 1", "1 mistake: books/a.toml, line 3, channel.x: there is no such key; known are "),
        ("[[default]]\ntest = '*'\nweight = -1", "mistake: books/a.toml, line 3, default.weight: "),
        (
            "[[default]]\ntest = '*'\nmodl = 'x'",
            "1 mistake: books/a.toml, line 3, default.modl: there is no such",
        ),
        ("\n[regions]\nhead = 0\n", "books/a.toml, line 3, regions.head: "),
        ("\n[[layout]]\nname = 'x'\n", "books/a.toml, line 2, layout.columns: this key is missing"),
        (
            "\n[scoring]\nmain = 'x'\n",
            "1 mistake: books/a.toml, line 2, scoring: this belongs in the campaign file",
        ),
        ("\n[[load_case]]\nname = 'x'\n", "1 mistake: books/a.toml, line 2, load_case: this belongs in"),
        (
            "\n[[chanel]]\nname = 'x'\n",
            "1 mistake: books/a.toml, line 2, chanel: there is no such key; did you mean",
        ),
        ("x = ", "line 1, include: 'books/a.toml' is not valid TOML: "),
        (
            "include = ['../campaign.toml']",
            "a.toml, line 1, include: the files include each other: campaign.toml → a.toml → campaign.toml",
        ),
        (
            "include = [\n\n'a.toml']",
            "books/a.toml, line 3, include: the files include each other: a.toml → a.toml",
        ),
    ],
)
def test_a_mistake_of_an_included_file_is_named_with_file_and_line(
    write: Write, book: str, said: str
) -> None:
    """Seen from the folder of the campaign file."""
    own = '[[channel]]\ntest = "D0HEAD0000KMACYP"\n'
    assert said in message(write(INCLUDE + own + CASE, a=book))


def test_a_channel_that_two_files_define(write: Write) -> None:
    """The second is named, and where the first is."""
    found = message(write(INCLUDE + "\n" + CHANNEL + CASE, a="\n" + CHANNEL))
    assert found.startswith("1 mistake: line 10, channel: channel 'D0HEAD0000KMACXP' is defined twice; ")
    assert "the first is in line 2 of a.toml" in found


def test_all_mistakes_of_all_files_are_reported_at_once(write: Write) -> None:
    """The campaign file first, then the others; each once though two load cases use the channels."""
    book = f"{CHANNEL}cfc = 7\n"
    text = f"{INCLUDE}[[channel]]\ntest = 'b'\nregion = 'r'\nweight = 0\n{CASE}stp_ms = 1\n"
    text += CASE.replace("head", "b")
    found = message(write(text, a=book))
    assert found.startswith("3 mistakes: line 12, channel.weight: ")
    assert found.index("line 18, load_case.stp_ms") < found.index("books/a.toml, line 3, channel.cfc")


def test_a_book_for_one_load_case_holds_defaults_only(write: Write) -> None:
    """Channels in it would be of no load case, so they are refused."""
    found = message(
        write(f"#\n{CHANNEL}{CASE}include = ['books/a.toml']\n", a="[[channel]]\ntest = 'b'\nregion = 'r'\n")
    )
    assert "1 mistake: line 15, load_case.include: 'a.toml' holds channel; include it at the top" in found
