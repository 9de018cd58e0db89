"""What the tests say of the cards, as it is saved and told."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.tuning.cards import (
    CardDirection,
    CardInterval,
    CardsPosterior,
    ChannelFit,
    MisfitWindow,
    cards_content,
    read_cards,
    write_cards,
)
from correlate.tuning.fitting import runs_sha256
from tests.tuning.functions import box, run_table

if TYPE_CHECKING:
    from pathlib import Path

SPACE = box((0, 2), (1, 5))
TABLE = run_table(SPACE, np.array([[1.0, 3.0], [0.5, 2.0]]), {"train": np.array([0.5, 0.6])})
WINDOW = MisfitWindow(
    load_case="neck-extension",
    channel="My",
    unit="Nm",
    start_s=0.062,
    end_s=0.081,
    largest=14.02,
    share=0.03,
    reachable=False,
)


def cards() -> CardsPosterior:
    """Return what could be said of two parameters and a curve."""
    intervals = tuple(
        CardInterval(
            name=one.name,
            unit=one.unit,
            scale=one.scale,
            lower=one.lower,
            upper=one.upper,
            start=one.start,
            best=one.start,
            median=one.start,
            low=one.start - 0.2,
            high=one.start + 0.2,
            left=0.2,
        )
        for one in SPACE.parameters
    )
    time = np.linspace(0, 0.1, 5)
    channel = ChannelFit(
        load_case="neck-extension",
        channel="My",
        unit="Nm",
        repeats=3,
        time_s=time,
        tests=np.arange(5.0),
        reached=np.arange(5.0) / 3,
        half_width=np.full(5, 0.5),
    )
    return CardsPosterior(
        intervals=intervals,
        directions=(CardDirection(deviation=0.289, shares={"x0": 0.6, "x1": -0.8}),),
        undetermined=("the tests do not determine 'x1'",),
        windows=(WINDOW,),
        channels=(channel,),
        best="p001",
        autocorrelation=20.0,
        effective=900.0,
        converged=True,
        assumed=(),
        seed=0,
        runs_sha256=runs_sha256(TABLE),
    )


def test_a_window_is_told_in_words() -> None:
    """Load case, channel, times, by how much and to which side, and whether any card reaches the tests."""
    assert WINDOW.words == (
        "neck-extension, My, 62 to 81 ms: the tests are up to 14 Nm above what any parameters within their "
        "bounds are expected to reach; the form of the model, or the tests or how they are compared (sign, "
        "filter, zero), is wrong here"
    )
    near = replace(WINDOW, largest=-3.0, reachable=True).words
    assert "up to 3 Nm below the best-fit curve, and parameters that reach them make others" in near


def test_doubts_are_told() -> None:
    """Too few draws and an assumed scatter are said; without them nothing is."""
    assert cards().doubts == ()
    doubtful = replace(cards(), converged=False, effective=120.0, assumed=("push, force",))
    short, assumed = doubtful.doubts
    assert "did not converge (120 independent draws of 400 needed" in short
    assert "not reliable" in short
    assert "one test is assumed (push, force)" in assumed


def test_what_was_saved_is_read_again(tmp_path: Path) -> None:
    """Every number and word; other runs make it old."""
    file = tmp_path / "cards.json"
    assert read_cards(file, TABLE) is None
    write_cards(file, cards())
    found = read_cards(file, TABLE)
    assert found is not None
    assert cards_content(found) == cards_content(cards())
    assert not found.is_old(TABLE)
    other = run_table(SPACE, np.array([[1.0, 3.0], [0.5, 2.5]]), {"train": np.array([0.5, 0.6])})
    assert found.is_old(other)
    assert list(found.to_frame()["name"]) == ["x0", "x1"]


@pytest.mark.parametrize(
    ("damage", "message"),
    [
        (lambda _: "no JSON", "it cannot be read"),
        (lambda text: text.replace('"form": 1', '"form": 0'), "another version"),
        (lambda text: text.replace('"median"', '"mean"'), "it is damaged"),
        (lambda text: text.replace('"x1"', '"x9"'), "it has other parameters"),
        (lambda _: json.dumps([1]), "another version"),
    ],
)
def test_a_damaged_file_is_refused(tmp_path: Path, damage: object, message: str) -> None:
    """One sentence that names the file and what to do."""
    file = tmp_path / "cards.json"
    write_cards(file, cards())
    assert callable(damage)
    file.write_text(damage(file.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(FormatError, match=message) as caught:
        read_cards(file, TABLE)
    assert str(file) in str(caught.value)
    assert "run 'correlate tune cards' again" in str(caught.value)
