"""The page on the loss: its example prints what stands below it, and its picture is that of the example."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from correlate import rate
from correlate.diagnosis.accounting import account_for_loss
from docs.pictures import diagnosis_loss

if TYPE_CHECKING:
    import pytest

TEXT = (Path(__file__).parents[2] / "docs" / "diagnosis-loss.md").read_text(encoding="utf-8")


def block(language: str) -> str:
    """Return the first block of one language."""
    found = re.search(rf"```{language}\n(.*?)```", TEXT, re.DOTALL)
    assert found
    return found[1]


def test_the_example_prints_what_stands_below_it(capsys: pytest.CaptureFixture[str]) -> None:
    """The lines of Python can be run as they stand."""
    exec(compile(block("python"), "the example of the page", "exec"), {})  # noqa: S102 - our own page
    assert capsys.readouterr().out == block("text")


def test_the_picture_shows_the_example() -> None:
    """Picture and example are of one pair, and the page shows the picture."""
    account = account_for_loss(rate(diagnosis_loss.example()))
    assert f"lost: {account.total:.3f}\n" in block("text")
    assert f"(pictures/{diagnosis_loss.PICTURE.name})" in TEXT
    assert diagnosis_loss.PICTURE.is_file()
