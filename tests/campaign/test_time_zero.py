"""Timing of a load case: shared by all channels, of one channel alone, or different in each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign.scatter import case_scatter, within_scatter
from correlate.campaign.time_zero import CaseTiming
from correlate.diagnosis.suspects import Suspect
from correlate.evaluation.case import CaseEvaluation
from tests.campaign.slow_project import TIME_MS, build, curves, write

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray


def late_by(name: str, late_ms: float) -> dict[str, NDArray[np.float64]]:
    """Return a column of the model that is late."""
    return {name: curves(late_ms)[name]}


def timing(folder: Path, **columns: NDArray[np.float64]) -> CaseTiming:
    """Return the timing of a model that is the middle repeat but for some columns."""
    build(folder)
    write(folder / "B1" / "slow.csv", curves(0.0) | columns)
    campaign = load_campaign(folder)
    return CaseTiming(CaseEvaluation(campaign, campaign.load_case("slow")), campaign.release("B1"))


def shift_of(channel: str, late_ms: float) -> Suspect:
    """Return what the examination of one pair says of a late channel."""
    return Suspect(
        kind="time zero off",
        channel=channel,
        evidence="late",
        fix="move it",
        rating_before=0.5,
        rating_after=0.9,
        change={"candidate_shift_s": -late_ms / 1e3},
    )


def test_a_late_channel_among_others_in_place_is_shifted_alone(tmp_path: Path) -> None:
    """40 ms late in the force: of another kind, everything else as it was found."""
    found = timing(tmp_path, **late_by("force [kN]", 40.0))
    assert found.suspect is None
    (one,) = found.told_apart("force", [shift_of("force", 40.0)])
    assert (one.kind, one.rating_after, one.fix) == ("one channel shifted", 0.9, "move it")


def test_channels_that_are_late_by_different_times_are_not_suspected(tmp_path: Path) -> None:
    """25 ms in the force and 60 ms in the angle, the moment in place: the model is late."""
    found = timing(tmp_path, **late_by("force [kN]", 25.0), **late_by("angle [deg]", 60.0))
    assert found.suspect is None
    assert found.told_apart("force", [shift_of("force", 25.0)]) == ()


def test_a_shared_shift_is_not_repeated_for_each_channel(tmp_path: Path) -> None:
    """Other suspects of the channel stay."""
    found = timing(tmp_path, **curves(30.0))
    assert found.suspect is not None
    turned = Suspect(
        kind="sign turned", channel="force", evidence="", fix="", rating_before=0.1, rating_after=0.9
    )
    assert found.told_apart("force", [shift_of("force", 30.0), turned]) == (turned,)


def test_the_shift_that_alone_restores_a_channel_is_told(tmp_path: Path) -> None:
    """Against a repeat by its name; None for a repeat that is not there, and for a channel in place."""
    found = timing(tmp_path, **late_by("angle [deg]", 20.0))
    shift = found.shift_alone("angle", "R1")
    assert shift is not None
    assert shift.delay_s == pytest.approx(0.02)
    assert shift.after == pytest.approx(1.0)
    assert found.shift_alone("angle", "R9") is None
    assert found.shift_alone("moment", "R1") is None


def test_a_channel_of_zeros_is_no_witness(tmp_path: Path) -> None:
    """The force is not connected: moment and angle still tell the shift."""
    found = timing(tmp_path, **curves(30.0) | {"force [kN]": 0.0 * TIME_MS})
    assert found.suspect is not None
    assert set(found.suspect.change["candidate_shifts_s"]) == {"moment", "angle"}


def test_scatter_of_a_channel_with_the_errors_of_the_release(tmp_path: Path) -> None:
    """A model like a repeat is within it, one that is 60 ms late is not, and no scatter says nothing."""
    build(tmp_path)
    write(tmp_path / "B1" / "slow.csv", curves(0.5) | late_by("angle [deg]", 60.0))
    campaign = load_campaign(tmp_path)
    case, release = CaseEvaluation(campaign, campaign.load_case("slow")), campaign.release("B1")
    assert within_scatter(case_scatter(case, release, "moment"))
    assert not within_scatter(case_scatter(case, release, "angle"))
    assert not within_scatter(None)
