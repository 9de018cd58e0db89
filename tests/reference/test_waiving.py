"""Writing waivers: what is there stays, what is added is checked, nothing is half written."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import load_waivers, waive
from correlate.errors import FormatError, SettingsError
from correlate.reference.finding import KINDS, Finding, Kind

if TYPE_CHECKING:
    from pathlib import Path

DAY = date(2026, 1, 2)


def finding(test: str, channel: str = "ax", kind: Kind = "spike") -> Finding:
    """Return an error in a test."""
    return Finding(
        kind=kind, severity="error", file=f"lab/{test}.csv", channel=channel, what="is off", remedy="look"
    )


def test_a_first_waiver_makes_the_file(tmp_path: Path) -> None:
    """The line names test, channel, finding, person, day and reason; the finding is covered then."""
    book = waive(tmp_path, [finding("T1")], who="lab", why="known  glitch", day=DAY)
    (line,) = book.waivers
    assert (line.test, line.channel, line.finding, line.who, line.date, line.why) == (
        "T1",
        "ax",
        "spike",
        "lab",
        DAY,
        "known glitch",
    )
    assert load_waivers(tmp_path).waiver_of(finding("T1")) is not None
    assert load_waivers(tmp_path).waiver_of(finding("T2")) is None


LISTED = """# ours
waivers = [
  { test = "T2", finding = "offset", who = "a", date = 2026-01-01, why = "b" },  # cold
]
"""
IN_TABLES = """# ours
[[waivers]]  # cold
test = "T2"
finding = "offset"
who = "a"
date = 2026-01-01
why = "b"
"""


@pytest.mark.parametrize("before", [LISTED, IN_TABLES])
def test_comments_and_lines_that_are_there_stay(tmp_path: Path, before: str) -> None:
    """Both forms of the file are continued in their own form."""
    (tmp_path / "waivers.toml").write_text(before, encoding="utf-8")
    waive(tmp_path, [finding("T1"), finding("T1", "ay")], who="lab", why="known", day=DAY)
    text = (tmp_path / "waivers.toml").read_text(encoding="utf-8")
    assert "# ours" in text
    assert "# cold" in text
    assert [one.test for one in load_waivers(tmp_path).waivers] == ["T2", "T1", "T1"]


def test_what_is_waived_is_not_waived_again(tmp_path: Path) -> None:
    """The first person and reason stay; the file does not change."""
    waive(tmp_path, [finding("T1"), finding("T1")], who="lab", why="known", day=DAY)
    before = (tmp_path / "waivers.toml").read_bytes()
    book = waive(tmp_path, [finding("T1")], who="else", why="other", day=DAY)
    assert [one.who for one in book.waivers] == ["lab"]
    assert (tmp_path / "waivers.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"who": " "}, "nobody is named"),
        ({"why": " \n "}, "no reason is given"),
        ({"why": "x" * 501}, "the reason has 501 characters"),
        ({"findings": []}, "no finding is selected"),
        ({"findings": [finding("T1", kind="set aside")]}, r"T1\.csv / ax: 1 channel cannot be read"),
        ({"day": date(2999, 1, 1)}, "lies in the future"),
    ],
)
def test_what_nobody_can_answer_for_is_refused(tmp_path: Path, change: dict[str, object], words: str) -> None:
    """No person, no reason, no finding, no data, a day to come: one sentence, and no file."""
    given_ = {"findings": [finding("T1")], "who": "lab", "why": "known", "day": DAY} | change
    with pytest.raises((FormatError, SettingsError), match=words):
        waive(tmp_path, given_.pop("findings"), **given_)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_a_file_with_mistakes_stays_as_it_is(tmp_path: Path) -> None:
    """The mistake of the file is named; nothing is added to it."""
    (tmp_path / "waivers.toml").write_text("waivers = [{ test = 'T2' }]\n", encoding="utf-8")
    with pytest.raises(FormatError, match=r"waivers\.toml"):
        waive(tmp_path, [finding("T1")], who="lab", why="known")
    assert (tmp_path / "waivers.toml").read_text(encoding="utf-8") == "waivers = [{ test = 'T2' }]\n"


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["T1", "T 2", 'T"3']), st.sampled_from(["", "ax", "a#y"]), st.sampled_from(KINDS)
        ),
        min_size=1,
        max_size=4,
    ),
    st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Zs"]), min_size=1).filter(str.strip),
)
def test_whatever_is_waived_can_be_read_again(
    tmp_path_factory: pytest.TempPathFactory, places: list[tuple[str, str, Kind]], why: str
) -> None:
    """Each finding is covered by a waiver with this reason, whatever its names and the reason contain."""
    findings = [finding(*one) for one in places if one[2] != "set aside"] or [finding("T1")]
    folder = tmp_path_factory.mktemp("waived")
    book = waive(folder, findings, who="lab", why=why, day=datetime.now(UTC).date())
    found = [book.waiver_of(one) for one in findings]
    assert {one.why for one in found if one} == {" ".join(why.split())}
    assert None not in found
