"""The curves of repeats as a table and as lists."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from correlate import Recipe
from correlate.reference.channel_repeats import ChannelRepeats, channel_repeats
from correlate.report.repeats_curves import curves_csv, curves_json, origins_json
from tests.reference.curves import pulse

RECIPE = Recipe(start_s=0.0, end_s=0.05)


def channel(*, model: bool = False, features_s: float = 0.0) -> ChannelRepeats:
    """Return three repeats of two sizes, one of them late."""
    repeats = [pulse(size=90), pulse(size=100), pulse(size=110, late_s=0.001)]
    candidate = pulse(size=105) if model else None
    return channel_repeats(repeats, candidate, recipe=RECIPE, largest_feature_move_s=features_s)


def table_of(text: str) -> dict[str, list[str]]:
    """Return the columns of a table without its comments."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    return {name: [row[name] for row in rows] for name in rows[0]}


def test_the_columns_are_the_curves() -> None:
    """Mean and standard deviation are those of the columns of the repeats, within the digits written."""
    table = table_of(curves_csv([channel()], title="three pulses"))
    assert list(table) == [
        "channel",
        "time_s",
        "mean",
        "standard_deviation",
        "lower",
        "upper",
        "repeat 1",
        "repeat 2",
        "repeat 3",
    ]
    repeats = np.array([[float(cell) for cell in table[f"repeat {number}"]] for number in (1, 2, 3)])
    mean, spread = repeats.mean(axis=0), repeats.std(axis=0, ddof=1)
    assert [float(cell) for cell in table["mean"]] == pytest.approx(mean, abs=1e-7)
    assert [float(cell) for cell in table["standard_deviation"]] == pytest.approx(spread, abs=1e-7)
    assert [float(cell) for cell in table["upper"]] == pytest.approx(mean + spread, abs=1e-7)
    assert [float(cell) for cell in table["time_s"]] == pytest.approx(np.arange(501) * 1e-4)
    # Aligned: all three are largest at one sample.
    assert len({int(np.argmax(one)) for one in repeats}) == 1


def test_comments_hold_settings_moves_and_hashes() -> None:
    """Unit, corridor, file, hash, shift and every moved feature stand before the table."""
    text = curves_csv([channel(features_s=0.001)], title="three pulses")
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert comments[0].startswith("# three pulses; correlate ")
    for words in (
        "unit g",
        "mean ± 1 SD",
        "repeat 3 is computed, sha256 none, moved by −",
        "peak brought to",
    ):
        assert any(words in line for line in comments), words


def test_a_model_follows_with_what_it_is_compared_with() -> None:
    """Its curve and the corridor at the recorded times; the share follows from the columns."""
    found = channel(model=True)
    table = table_of(curves_csv([found], title="three pulses"))
    low, high, model = (
        np.array([float(cell) for cell in table[name]])
        for name in ("compared_lower", "compared_upper", "model")
    )
    assert found.inside is not None
    share = float(((model >= low - 1e-7) & (model <= high + 1e-7)).mean())
    assert share == pytest.approx(found.inside.share, abs=2 / 501)


def test_channels_follow_each_other_and_lists_are_the_same() -> None:
    """A channel without a model leaves cells empty; the lists hold the numbers of the table."""
    table = table_of(curves_csv([channel(), channel(model=True)], title="both"))
    assert table["model"][:501] == [""] * 501
    assert table["model"][501] != ""
    lists = curves_json(channel())
    assert lists["mean"] == pytest.approx([float(cell) for cell in table["mean"][:501]], abs=1e-7)
    assert [one["shift_s"] for one in origins_json(channel())] == list(channel().repeats.shifts_s)


def test_a_line_break_in_a_title_does_not_end_the_comment() -> None:
    """The table still begins with its heading."""
    text = curves_csv([channel()], title="two\nlines")
    first = next(line for line in text.splitlines() if not line.startswith("#"))
    assert first.startswith("channel,time_s")
