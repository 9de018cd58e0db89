"""Test channels without a partner in a release, and what could be their partner."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.campaign.proposals import Proposal, propose
from correlate.conditioning import Recipe
from correlate.errors import CorrelateError
from correlate.evaluation.matching import model_channel_name
from correlate.formats import read

if TYPE_CHECKING:
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.formats import Recording


def proposals_of(campaign: Campaign, release: Release) -> list[tuple[str, list[Proposal]]]:
    """Rank partners for every test channel that has none in a release.

    Parameters
    ----------
    campaign
        The campaign.
    release
        Whose results are looked at.

    Returns
    -------
    list of (str, list of Proposal)
        Name of the load case, and the proposals for one channel, best first. Channels for which nothing
        measures the same are left out.

    Raises
    ------
    CorrelateError
        A test or a result cannot be read.
    """
    found: list[tuple[str, list[Proposal]]] = []
    for case in campaign.load_cases:
        test = read(campaign.test_paths(case)[0])
        model = campaign.read_model(release, case)
        used, open_ = _split(case, test, model)
        spare = [signal for signal in model.signals if signal.channel not in used]
        for name in open_:
            ranked = propose(test.channel(name), spare, recipe=_recipe(case, name))
            if ranked:
                found.append((case.name, ranked))
    return found


def _split(case: LoadCase, test: Recording, model: Recording) -> tuple[set[str], list[str]]:
    """Return the model channels that are paired, and the test channels that are not."""
    used: set[str] = set()
    paired: set[str] = set()
    for plan in case.channel:
        try:
            used.add(model_channel_name(plan, model))
            paired.add(plan.test)
        except CorrelateError:
            continue  # it is one of those that need a proposal
    return used, [name for name in test.channel_names if name not in paired]


def _recipe(case: LoadCase, name: str) -> Recipe:
    """Return how the channel is conditioned, or the load case's interval alone when it is not planned."""
    for plan in case.channel:
        if plan.test == name:
            return case.recipe(plan)
    start_ms, end_ms = case.interval_ms
    return Recipe(start_s=start_ms / 1e3, end_s=end_ms / 1e3, step_s=case.step_ms / 1e3)
