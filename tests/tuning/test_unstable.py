"""Telling an unstable run by what it wrote."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.tuning.rating import line_without_number

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    "cell", ["nan", "NaN", "-inf", "Infinity", "+INF", "1.#QNAN", "-1.#IND00", "********"]
)
def test_every_way_to_write_no_number_is_found(tmp_path: Path, cell: str) -> None:
    """The line is counted from 1."""
    (tmp_path / "r.csv").write_text(f"time [ms],a [kN]\n0,1\n1,{cell}\n", encoding="utf-8")
    assert line_without_number(tmp_path / "r.csv") == 3


@pytest.mark.parametrize("text", ["time,finance\n0,1e-5\n", "info: nanometre 1.5\n", "** text\n-3.2E+05\n"])
def test_words_and_numbers_that_look_alike_are_not(tmp_path: Path, text: str) -> None:
    """Names of channels and comments may hold the letters."""
    (tmp_path / "r.csv").write_text(text, encoding="utf-8")
    assert line_without_number(tmp_path / "r.csv") is None


def test_an_absent_file_says_nothing(tmp_path: Path) -> None:
    """That it is absent is found when it is read."""
    assert line_without_number(tmp_path / "r.csv") is None
