"""The curves of a campaign as they are rated, for other programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import conditioned_curves, load_campaign, rate, score_campaign
from correlate.errors import SettingsError
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from pathlib import Path

project = project_on_disk


def test_the_curves_are_those_that_were_rated(project: Path) -> None:
    """Rating each pair of curves gives the bits of the rating of the campaign, in the same order."""
    campaign = load_campaign(project)
    records = score_campaign(campaign, workers=1).records
    curves = list(conditioned_curves(campaign))
    assert [(one.release, one.load_case, one.channel, one.repeat) for one in curves] == [
        (one.release, one.load_case, one.channel, one.repeat) for one in records
    ]
    for one, record in zip(curves, records, strict=True):
        assert one.pair is not None
        assert rate(one.pair).overall == record.overall
    assert [one.unit for one in curves] == ["kN", "kN", "mm", "mm"]


def test_the_long_table_has_every_sample_once(project: Path) -> None:
    """Test and model follow each other on one grid; the values are those of the pair."""
    curves = conditioned_curves(load_campaign(project), releases=["B1"], load_cases=["push"])
    frame = curves.to_frame()
    first = next(iter(curves))
    assert first.pair is not None
    assert len(frame) == sum(2 * len(one.pair) for one in curves if one.pair is not None)
    rows = frame[(frame["channel"] == "force") & (frame["repeat"] == "R1")]
    test, model = (rows[rows["side"] == side] for side in ("test", "model"))
    np.testing.assert_array_equal(test["value"], first.pair.reference)
    np.testing.assert_array_equal(model["value"], first.pair.candidate)
    np.testing.assert_array_equal(test["time_s"], first.pair.time)
    np.testing.assert_array_equal(model["time_s"], first.pair.time)
    assert set(rows["unit"]) == {"kN"}


def test_a_pair_without_curves_says_why(project: Path) -> None:
    """A result that is not there leaves its pairs without curves, each with the reason."""
    (project / "model" / "push.csv").unlink()
    curves = conditioned_curves(load_campaign(project))
    assert all(one.pair is None and "no such file" in one.reason for one in curves)
    assert len(list(curves)) == 4
    assert curves.to_frame().empty


def test_unknown_names_are_refused(project: Path) -> None:
    """Before anything is read."""
    campaign = load_campaign(project)
    with pytest.raises(SettingsError, match="no release 'B7'"):
        conditioned_curves(campaign, releases=["B7"])
    with pytest.raises(SettingsError, match="no load case 'pull'"):
        conditioned_curves(campaign, load_cases=["pull"])
