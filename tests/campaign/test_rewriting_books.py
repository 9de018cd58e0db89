"""Accepting a partner in a campaign with a channel book: in the book, by an override, or beside it."""

from __future__ import annotations

from difflib import ndiff
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign import Proposal
from correlate.campaign.rewriting import accept_partner
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

INLINE = """\
# ours
include = ["books/more.toml"]   # shared
channel = [
  {test = "force", region = "thorax", cfc = 180},   # of the probe
  { test = "other", region = "thorax", model = "x", model_sign = -1 },
]

[campaign]
title = "Book"

[[load_case]]
name = "push"          # a push
tests = ["tests/*.csv"]
interval_ms = [0, 50]

# the only one
[[release]]
name = "B1"
folder = "model"
"""
TABLES = INLINE.replace(
    """channel = [
  {test = "force", region = "thorax", cfc = 180},   # of the probe
  { test = "other", region = "thorax", model = "x", model_sign = -1 },
]
""",
    "",
).replace(
    "# the only one",
    """[[channel]]
test = "force"   # of the probe
region = "thorax"
cfc = 180

# the only one""",
)
MORE = '[[channel]]\ntest = "deflection"\nregion = "thorax"\nmodel_sign = -1\n'


@pytest.fixture
def write(tmp_path: Path) -> Path:
    """Write the included book and return the campaign file, which is not there yet."""
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "more.toml").write_text(MORE, encoding="utf-8")
    return tmp_path / "campaign.toml"


def accepted(path: Path, text: str, test: str, *, sign: int = 1) -> list[str]:
    """Accept a partner; return the lines of the file that are new, having checked that all others stay."""
    path.write_text(text, encoding="utf-8")
    accept_partner(path, "push", Proposal(test=test, model="m", score=1.0, sign=sign, reasons=()))
    changed = path.read_text(encoding="utf-8").splitlines()
    new = [line for line in changed if line and line not in text.splitlines()]
    gone = [line for line in ndiff(text.splitlines(), changed) if line.startswith("- ")]
    assert len(gone) <= 1, "at most the line of an inline entry is another"
    return new


def test_an_entry_of_the_own_book_gets_the_partner(write: Path) -> None:
    """Inline behind its keys, as a table behind the name; comments stay."""
    new = accepted(write, INLINE, "force", sign=-1)
    assert new == [
        '  {test = "force", region = "thorax", cfc = 180, model = "m", model_sign = -1},   # of the probe'
    ]
    assert accepted(write, TABLES, "force") == ['model = "m"']
    plan = load_campaign(write).load_case("push").plan("force")
    assert (plan.model, plan.cfc) == ("m", 180)


def test_an_entry_of_an_included_book_gets_it_by_an_override(write: Path) -> None:
    """The included file stays as it is; a turned sign is turned against the planned one."""
    assert accepted(write, INLINE, "deflection", sign=-1) == [
        "[[load_case.override]]",
        'test = "deflection"',
        'model = "m"',
        "model_sign = 1",
    ]
    assert (write.parent / "books" / "more.toml").read_text(encoding="utf-8") == MORE
    plan = load_campaign(write).load_case("push").plan("deflection")
    assert (plan.model, plan.model_sign) == ("m", 1)


def test_an_override_of_the_sign_is_not_undone_by_the_entry(write: Path) -> None:
    """Where an override gives the sign, the partner is written into a later one."""
    text = TABLES.replace(
        "[[channel]]", '[[load_case.override]]\ntest = "force"\nmodel_sign = -1\n\n[[channel]]'
    )
    assert "model_sign = 1" in accepted(write, text, "force", sign=-1)
    assert load_campaign(write).load_case("push").plan("force").model_sign == 1


@pytest.mark.parametrize("text", [INLINE, TABLES])
def test_a_channel_beside_the_book_does_not_take_the_book_away(write: Path, text: str) -> None:
    """A load case that took the whole book still does."""
    before = ["deflection", "force"] + (["other"] if text is INLINE else [])
    new = accepted(write, text, "speed")
    assert 'channels = ["*"]' in new
    assert "[[load_case.channel]]" in new
    names = [one.test for one in load_campaign(write).load_case("push").channel]
    assert names == [*before, "speed"]


def test_a_channel_of_a_book_that_has_a_model_is_refused(write: Path) -> None:
    """Accepting never overwrites."""
    with pytest.raises(SettingsError, match="channel 'other' already has a model"):
        accepted(write, INLINE, "other")
