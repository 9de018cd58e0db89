"""Everything about the loss of one pair hangs together, and a dead channel is no obstacle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recipe, Signal, load_campaign
from correlate.campaign.pair_explanation import explain_campaign_pair, explain_pair
from correlate.diagnosis.hints import EvidenceChannel, hints
from correlate.evaluation.case import CaseEvaluation
from tests.campaign.slow_project import build, curves, write

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

TIME = np.arange(601) * 1e-4
PULSE = 100 * np.sin(np.pi * np.clip((TIME - 0.01) / 0.03, 0, 1)) ** 2


def signal(samples: NDArray[np.float64], *, unit: str = "kN") -> Signal:
    """Return a signal from 0 to 60 ms."""
    return Signal(samples=samples, start_s=0.0, step_s=1e-4, unit=unit, channel="force")


def late(milliseconds: float) -> NDArray[np.float64]:
    """Return the pulse at a later time."""
    return np.asarray(np.interp(TIME - milliseconds / 1e3, TIME, PULSE))


def test_all_parts_speak_of_one_rating() -> None:
    """Account, what-if and score agree on what the pair is worth, and the planted changes are found."""
    found = explain_pair(signal(PULSE), signal(0.9 * late(2.0)))
    overall = found.score.rating.overall
    assert found.account.total == pytest.approx(1 - overall, abs=1e-12)
    assert found.what_if.unchanged.overall == overall
    assert found.what_if.shift.change.shift_s == pytest.approx(-0.002, abs=1.5e-4)
    assert found.what_if.together.rating.overall > 0.99
    peak = next(one for one in found.differences if one.name == "peak")
    assert peak.unit == "kN"
    assert peak.relative == pytest.approx(-0.1, abs=1e-6)
    assert found.suspects == ()


def test_the_recipe_reaches_every_part() -> None:
    """A sign turned by the recipe is taken off again by the suspect, on the interval of the recipe."""
    recipe = Recipe(start_s=0.005, end_s=0.05, candidate_sign=-1)
    found = explain_pair(signal(PULSE), signal(late(0.5)), recipe=recipe)
    assert found.account.time.size == 451
    assert found.suspects[0].kind == "sign turned"
    assert found.hints_wait
    assert found.suspects[0].rating_before == pytest.approx(found.score.rating.overall)


def test_an_angle_is_hinted_at_as_a_travel() -> None:
    """More of an angle means something else than more of a force: the channel is read as what it is."""
    wide = 100 * np.sin(np.pi * np.clip((TIME - 0.01) / 0.04, 0, 1)) ** 2 * 1.2
    angle = explain_pair(signal(PULSE, unit="deg"), signal(wide, unit="deg"))
    pair = angle.score.rating.pair
    assert angle.hints == hints([EvidenceChannel(name="force", role="travel", pair=pair)]) != ()
    assert angle.hints != hints(pair)


def test_a_model_that_is_zero_throughout_is_explained() -> None:
    """It has no features, but it loses, and the account says when."""
    found = explain_pair(signal(PULSE), signal(0 * PULSE))
    assert found.model_is_zero
    assert not explain_pair(signal(PULSE), signal(late(1.0))).model_is_zero
    assert found.differences == ()
    assert found.account.total == pytest.approx(1 - found.score.rating.overall, abs=1e-12)


def test_a_model_that_is_only_late_gives_no_hints() -> None:
    """5 ms late and nothing else: below what a late model may be, so no suspect, but no material either."""
    found = explain_pair(signal(PULSE), signal(late(5.0)))
    assert found.suspects == ()
    assert found.hints == ()
    overall = found.score.rating.overall
    assert found.silence == (
        f"shifting the model 5.0 ms earlier is enough to raise the rating from {overall:.3f} to 1.000; "
        "check the triggers first"
    )


def test_a_suspected_error_silences_the_hints() -> None:
    """A turned sign is resolved first."""
    found = explain_pair(signal(PULSE), signal(-PULSE))
    assert (found.hints, found.silence) == ((), "a data-handling error is suspected; resolve it first")


def test_a_pair_of_a_campaign_knows_its_load_case(tmp_path: Path) -> None:
    """A shift of all channels comes first with every channel, and there are no hints."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(12.0))
    campaign = load_campaign(folder)
    case = CaseEvaluation(campaign, campaign.load_case("slow"))
    found = explain_campaign_pair(case, campaign.release("B1"), "angle")
    assert [(one.kind, one.channel) for one in found.suspects] == [("time zero off", "")]
    assert found.silence == "time zero is suspected to be wrong in all channels; resolve this first"


def test_a_pair_within_hardware_scatter_gives_no_hints(tmp_path: Path) -> None:
    """One more repeat would be as far off."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(0.5))
    campaign = load_campaign(folder)
    case = CaseEvaluation(campaign, campaign.load_case("slow"))
    found = explain_campaign_pair(case, campaign.release("B1"), "force")
    assert (found.hints, found.silence) == ((), "the model is within hardware scatter")
