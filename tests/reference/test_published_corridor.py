"""Corridors given as points: read, checked, and used on a grid."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import Signal
from correlate.errors import FormatError, SignalError, UnitError
from correlate.reference.corridor import inside_corridor
from correlate.reference.published_corridor import PublishedCorridor, load_published_corridor

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

TOML = """
title = "invented band"
source = "none: an example"
unit = "kN"
lower = [[0, 0], [10, 2], [20, 0]]
upper = [[0, 1], [10, 4], [25, 1]]
"""
CSV = """# title: invented band
# source: none: an example
# unit: kN
edge,time_ms,value
lower,0,0
lower,10,2
lower,20,0
upper,0,1
upper,10,4
upper,25,1
"""
GRID_S: NDArray[np.float64] = np.linspace(0.0, 0.03, 301)


def band() -> PublishedCorridor:
    """Return a corridor whose corners are known."""
    return PublishedCorridor(
        title="invented band",
        source="none: an example",
        unit="kN",
        lower=((0, 0), (10, 2), (20, 0)),
        upper=((0, 1), (10, 4), (25, 1)),
    )


def written(tmp_path: Path, text: str, name: str = "band.csv") -> Path:
    """Write a file."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_both_kinds_of_file_are_the_same(tmp_path: Path) -> None:
    """TOML and CSV with the same points give the same corridor."""
    assert load_published_corridor(written(tmp_path, TOML, "band.toml")) == band()
    assert load_published_corridor(written(tmp_path, CSV)) == band()


def test_edges_are_straight_lines_between_the_points() -> None:
    """Half-way up and down the values are known; the corridor ends where the shorter edge ends."""
    found = band().corridor(GRID_S, unit="N", channel="force")
    at = {round(1e3 * time, 1): place for place, time in enumerate(found.time_s.tolist())}
    for time_ms, low, high in ((0.0, 0, 1000), (5.0, 1000, 2500), (10.0, 2000, 4000), (20.0, 0, 2000)):
        assert found.lower[at[time_ms]] == pytest.approx(low)
        assert found.upper[at[time_ms]] == pytest.approx(high)
    assert found.time_s[-1] == pytest.approx(0.02)
    assert (found.unit, found.kind, found.repeats) == ("N", "invented band", 0)
    assert any("none: an example" in words for words in found.assumptions)
    assert found.assumptions[-1] == "compared from 0 to 20 ms only, where the corridor has both edges"
    whole = band().corridor(GRID_S[:201], unit="N", channel="force")
    assert not any("compared from" in words for words in whole.assumptions)


def test_a_curve_is_compared_with_it() -> None:
    """A constant of 1.5 kN is above the upper edge until 5/3 ms, and below the lower one for 5 ms."""
    constant = Signal(samples=np.full(301, 1500.0), start_s=0.0, step_s=1e-4, unit="N", channel="force")
    found = inside_corridor(band().corridor(GRID_S, unit="kN", channel="force"), constant)
    assert found.share == pytest.approx(1 - (5 / 3 + 5) / 20, abs=2 / 200)
    assert found.furthest == pytest.approx(0.5)


@given(factor=st.floats(0.01, 100), height=st.floats(-3, 5))
def test_the_unit_does_not_matter(factor: float, height: float) -> None:
    """Points and curve multiplied by one factor: the share is the same."""
    scaled = PublishedCorridor(
        title="scaled",
        source="none",
        unit="kN",
        lower=tuple((time, factor * value) for time, value in band().lower),
        upper=tuple((time, factor * value) for time, value in band().upper),
    )
    flat = Signal(samples=np.full(301, height), start_s=0.0, step_s=1e-4, unit="kN", channel="force")
    large = Signal(
        samples=np.full(301, factor * height), start_s=0.0, step_s=1e-4, unit="kN", channel="force"
    )
    one = inside_corridor(band().corridor(GRID_S, unit="kN", channel="force"), flat)
    other = inside_corridor(scaled.corridor(GRID_S, unit="kN", channel="force"), large)
    assert other.share == pytest.approx(one.share, abs=1.01 / 201)


def test_what_does_not_fit_is_refused() -> None:
    """Another quantity, and a time that the points do not cover."""
    with pytest.raises(
        UnitError, match="deflection: the corridor 'invented band' is in 'kN', the channel in 'mm'"
    ):
        band().corridor(GRID_S, unit="mm", channel="deflection")
    with pytest.raises(SignalError, match="covers 0 ms to 20 ms, the curves 100 ms"):
        band().corridor(GRID_S + 0.1, unit="kN", channel="force")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[10, 2], [20, 0]", "[20, 2], [20, 0]", "20 ms does not come after 20 ms"),
        ("[[0, 1], [10, 4], [25, 1]]", "[[0, 1]]", "two points or more"),
        ("[10, 4]", "[10, 1]", "the lower edge is above the upper one at 10 ms"),
        ("[[0, 1], [10, 4], [25, 1]]", "[[30, 1], [40, 4]]", "have no time in common"),
        ('"kN"', '"kM"', "kM"),
        ("upper", "uper", "uper"),
    ],
)
def test_mistakes_in_a_toml_file(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Each is named with the file and the line."""
    path = written(tmp_path, TOML.replace(old, new), "band.toml")
    with pytest.raises(FormatError, match=message) as caught:
        load_published_corridor(path)
    assert "band.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("edge,time_ms,value", "edge,t,value", "line 4: the columns are edge, t, value"),
        ("lower,10,2", "lower,ten,2", "line 6: 'lower,ten,2' is not an edge with two numbers"),
        ("lower,10,2", "lower,10", "line 6: 'lower,10' is not an edge with two numbers"),
        ("upper,10,4", "middle,10,4", "line 9: 'middle' is not an edge"),
        ("upper,10,4", f"upper,10,{'4' * 140_000}", "line 9: the cells cannot be read"),
        ("upper,10,4", "upper,0,4", "0 ms does not come after 0 ms"),
        ("# unit: kN\n", "", "unit"),
        ("# unit: kN", "# unit: kM", "kM"),
    ],
)
def test_mistakes_in_a_csv_file(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Each is named with the file, and the line where there is one."""
    with pytest.raises(FormatError, match=message) as caught:
        load_published_corridor(written(tmp_path, CSV.replace(old, new)))
    assert "band.csv" in str(caught.value)


def test_a_comment_named_as_an_edge_is_a_comment(tmp_path: Path) -> None:
    """The points of an edge are in the rows, whatever a comment is called."""
    assert load_published_corridor(written(tmp_path, f"# lower: drawn by hand\n{CSV}")) == band()


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file and one that is no text."""
    for name in ("absent.csv", "absent.toml"):
        with pytest.raises(FormatError, match="cannot be read"):
            load_published_corridor(tmp_path / name)
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FormatError, match="not UTF-8 text"):
        load_published_corridor(tmp_path / "odd.csv")
