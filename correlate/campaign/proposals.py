"""Model channels proposed for the test channels of a campaign that have none."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate.campaign.clues import View
from correlate.campaign.partners import ranked
from correlate.errors import CorrelateError
from correlate.evaluation.book import usual_settings
from correlate.evaluation.channels import model_channel_name
from correlate.formats import Recording

if TYPE_CHECKING:
    from collections.abc import Iterable

    from correlate.campaign.partners import Proposal
    from correlate.conditioning import Recipe
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.signal import Signal


def propose(test: Signal, candidates: Iterable[Signal], *, recipe: Recipe | None = None) -> list[Proposal]:
    """Rank the channels of a model's output as partners of one test channel.

    Parameters
    ----------
    test
        The test channel.
    candidates
        Channels of the model.
    recipe
        Interval to compare the curves in.

    Returns
    -------
    list of Proposal
        Best first; channels that measure something else are left out.
    """
    interval = (
        None
        if recipe is None or recipe.start_s is None or recipe.end_s is None
        else (recipe.start_s, recipe.end_s)
    )
    view = View(
        tests=(Recording(signals=(test,), path=Path("test"), format="computed"),),
        model=Recording(signals=tuple(candidates), path=Path("model"), format="computed"),
        interval_s=interval,
    )
    return next(iter(ranked({"": [view]}, {})[""]), [])


def proposals_of(campaign: Campaign, release: Release) -> list[tuple[str, list[Proposal]]]:
    """Rank partners for every test channel that has none in a release.

    All repeats and load cases are weighed together, and each channel of the model is first once at most.

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
        that measures the same is left are left out, and so are load cases without a result of the release
        (:meth:`Campaign.without_result`) where another has one.

    Raises
    ------
    CorrelateError
        A test or a result cannot be read.
    """
    views: dict[str, list[View]] = {}
    taken: dict[str, tuple[set[str], set[str]]] = {}
    absent = campaign.without_result(release)
    cases = [case for case in campaign.load_cases if case.name not in absent] or campaign.load_cases
    for case in cases:
        model = campaign.read_model(release, case)
        tests = tuple(campaign.read_test(path, case) for path in campaign.test_paths(case))
        start_ms, end_ms = case.interval_ms
        views[case.name] = [View(tests=tests, model=model, interval_s=(start_ms / 1e3, end_ms / 1e3))]
        taken[case.name] = _taken(case, model)
    found = ranked(views, taken)
    return [(name, proposals) for name in views for proposals in found[name]]


def _taken(case: LoadCase, model: Recording) -> tuple[set[str], set[str]]:
    """Return the test channels and the model channels that are paired."""
    tests: set[str] = set()
    models: set[str] = set()
    for plan in case.channel:
        try:
            models.add(model_channel_name(plan, model))
            tests.add(plan.test)
        except CorrelateError:
            continue  # it is one of those that need a proposal
    return tests, models


def planned_channel(test: str) -> dict[str, Any]:
    """Return how a test channel is planned that is not yet: code, region, usual frequency class."""
    usual = {"region": "other"} | usual_settings(test)
    return {"test": test, **{key: usual[key] for key in ("region", "cfc") if key in usual}}
