"""Campaign files with names that look alike, or that cannot be read as they are written."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import CorrelateError, load_campaign
from tests.dashboard.project import CAMPAIGN

if TYPE_CHECKING:
    from pathlib import Path


def refusal(folder: Path, *changes: tuple[str, str]) -> str:
    """Return the refusal of the small campaign after changes of its text."""
    text = CAMPAIGN
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CorrelateError) as found:
        load_campaign(folder)
    return str(found.value)


@pytest.mark.parametrize("other", ["\uff211", "a1", "\u04101"])
def test_two_releases_that_look_alike_are_refused(tmp_path: Path, other: str) -> None:
    """Both are named by code point, because they cannot be told apart by sight."""
    said = refusal(tmp_path, ('name = "A2"', f'name = "{other}"'))
    points = " ".join(f"U+{ord(sign):04X}" for sign in other)
    assert f"two release names look alike: 'A1' (U+0041 U+0031) and '{other}' ({points}); rename one" in said


def test_two_load_cases_that_look_alike_are_refused(tmp_path: Path) -> None:
    """The same for load cases."""
    said = refusal(tmp_path, ('name = "impact"', 'name = "DROP"'))
    assert "two load case names look alike: 'drop'" in said


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("im\u200bpact", "should match pattern"),
        ("imp\u0430ct", "mixes Latin and Cyrillic letters"),
    ],
)
def test_a_name_that_cannot_be_read_is_refused(tmp_path: Path, name: str, why: str) -> None:
    """A sign of no width, and a word of two scripts."""
    assert why in refusal(tmp_path, ('name = "impact"', f'name = "{name}"'))
