"""What lies in a folder: recordings, tests and results, and what is passed over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.campaign.scanning import scan
from correlate.errors import FormatError
from tests.campaign.conftest import half_sine, write_columns

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Write a noisy test, a smooth result and files of other kinds."""
    noise = 0.05 * np.random.default_rng(3).standard_normal(701)
    write_columns(tmp_path / "x" / "one.csv", {"force [kN]": half_sine(5, 4.0) + noise})
    write_columns(tmp_path / "y" / "two.csv", {"probe force [N]": half_sine(5, 3900.0)})
    (tmp_path / "y" / "report.pdf").write_bytes(b"%PDF")
    (tmp_path / "y" / "notes.txt").write_text("call back\n", encoding="utf-8")
    (tmp_path / ".hidden.csv").write_text("time [ms],a [g]\n0,1\n1,2\n", encoding="utf-8")
    return tmp_path


def test_noise_tells_a_test_from_a_result(folder: Path) -> None:
    """Same folder names, same format: the curves decide."""
    tests, results = scan(folder, lambda _: None).split()
    assert [one.relative for one in tests] == ["x/one.csv"]
    assert [one.relative for one in results] == ["y/two.csv"]


def test_what_is_not_read_is_listed_with_the_reason(folder: Path) -> None:
    """Text that is no table; documents and hidden files are not even looked at."""
    passed = scan(folder, lambda _: None).passed_over
    assert list(passed) == ["y/notes.txt"]
    assert "is not a header" in passed["y/notes.txt"]


def test_patterns_decide_where_they_are_given(folder: Path) -> None:
    """The other way round, because somebody said so; one pattern leaves the rest to the other kind."""
    found = scan(folder, lambda _: None)
    tests, results = found.split(tests="y/*", results="x/*")
    assert ([one.relative for one in tests], [one.relative for one in results]) == (
        ["y/two.csv"],
        ["x/one.csv"],
    )
    tests, results = found.split(results="y/*")
    assert [one.relative for one in tests] == ["x/one.csv"]


def test_a_folder_that_cannot_be_listed_is_refused(tmp_path: Path) -> None:
    """One sentence."""
    with pytest.raises(FormatError, match="absent: there is no such file; check the path"):
        scan(tmp_path / "absent", lambda _: None)


def test_a_link_is_listed_and_not_followed(folder: Path) -> None:
    """It may lead out of the project or around in it, but what is left out is said."""
    (folder / "z").symlink_to(folder / "y")
    passed = scan(folder, lambda _: None).passed_over
    assert passed["z"].startswith("links are not followed")
