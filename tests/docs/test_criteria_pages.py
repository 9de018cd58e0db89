"""The pages of criteria and windows: their examples work as they stand."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from correlate import CRITERIA, window_book

if TYPE_CHECKING:
    import pytest

DOCS = Path(__file__).parents[2] / "docs"


def block(page: str, language: str) -> str:
    """Return the first code block of a language on a page."""
    found = re.search(rf"```{language}\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found[1]


def test_the_windows_file_of_the_page_is_valid(tmp_path: Path) -> None:
    """The example adds its test to the shipped ones."""
    file = tmp_path / "own.toml"
    file.write_text(block("qualification.md", "toml"), encoding="utf-8")
    assert window_book([file]).find(device="KELP", test="pelvis").source == "house rule 12"


def test_the_python_example_prints_what_the_page_says(capsys: pytest.CaptureFixture[str]) -> None:
    """HIC 1000 over 10 ms, and an error of 3.5 standard deviations."""
    exec(block("criteria.md", "python"), {})  # noqa: S102 - our own page
    assert [round(float(word), 9) for word in capsys.readouterr().out.split()] == [1000.0, 0.01, 3.5]


def test_the_page_names_every_shipped_section_and_how_far_it_was_checked() -> None:
    """Each section of the windows file stands on the page with its mark."""
    text = (DOCS / "qualification.md").read_text(encoding="utf-8")
    rows = {row.split("|")[1].strip(): row for row in text.splitlines() if row.startswith("| 572")}
    for window in window_book().windows:
        mark = "| checked |" if window.checked else "| from memory |"
        assert rows[window.section].endswith(mark)


def test_the_page_names_every_criterion() -> None:
    """Each criterion of the table is described."""
    text = (DOCS / "criteria.md").read_text(encoding="utf-8").casefold()
    for criterion in CRITERIA:
        assert criterion.name.split(",")[0].removeprefix("head ").removeprefix("chest 3").casefold() in text
