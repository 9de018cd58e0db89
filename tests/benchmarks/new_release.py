"""One new release of a large campaign, its tests kept from an earlier run, against rating of ready pairs.

Processor time of all processes: what the machine does for a release, whatever else runs beside it.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Final
from unittest import mock

from correlate import load_campaign, rate
from correlate.campaign import score_campaign
from correlate.campaign.scoring import local_engine
from correlate.evaluation import CaseEvaluation
from correlate.metrics.iso18571 import rate_many
from tests.benchmarks.campaign import Sizes, write_project
from tests.benchmarks.table import Row, row_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.evaluation.definition import Campaign
    from correlate.pair import AlignedPair

SIZES: Final = Sizes(load_cases=20, repeats=3, channels=80, releases=1)
"""4,800 pairs, as one release of :data:`tests.benchmarks.campaign.OUTSIDE`."""
GOAL: Final = 1 / 1.3


def rows(repetitions: int = 5) -> Iterator[Row]:
    """Rate the release by one process, by as many as start by themselves, and in turn ready pairs.

    Parameters
    ----------
    repetitions
        How often.
    """
    with (
        tempfile.TemporaryDirectory() as name,
        tempfile.TemporaryDirectory() as kept,
        mock.patch.dict(os.environ, {"XDG_CACHE_HOME": kept}),
    ):
        folder = Path(name)
        write_project(folder, SIZES)
        campaign = load_campaign(folder)
        unkept_s = _scored_s(campaign, 1)
        pairs = _ready(campaign)
        times = [
            (
                _scored_s(campaign, 1),
                _scored_s(campaign, None),
                _together_s(campaign, pairs),
                _single_s(pairs),
            )
            for _ in range(repetitions)
        ]
    what = f"new release of {SIZES.pairs:,} pairs, tests kept, processor time of"
    many, one = "against rating the ready pairs together", "against rating the ready pairs one by one"
    yield row_of(f"{what} one process, {many}", [(own, bare) for own, _, bare, _ in times], goal=GOAL)
    yield row_of(f"{what} one process, {one}", [(own, bare) for own, _, _, bare in times], goal=GOAL)
    yield row_of(
        f"{what} as many processes as start by themselves, {one}",
        [(own, bare) for _, own, _, bare in times],
        goal=GOAL,
    )
    yield row_of(
        "the same by one process without kept tests (once), against with them",
        [(unkept_s, own) for own, *_ in times],
        goal=None,
    )


def _scored_s(campaign: Campaign, workers: int | None) -> float:
    """Return the processor time of scoring the release, other processes with their start included."""
    before = os.times()
    scores = score_campaign(campaign, engine=local_engine(workers))
    after = os.times()
    if scores.new != SIZES.pairs:
        sys.exit(f"{scores.new} pairs rated instead of {SIZES.pairs}: {scores.unrated[:1]}")
    # User and system time of this process and of those it started.
    return sum(after[:4]) - sum(before[:4])


def _ready(campaign: Campaign) -> list[list[AlignedPair]]:
    """Return the pairs of each block, read, conditioned and aligned."""
    release = campaign.releases[0]
    cases = (CaseEvaluation(campaign, load_case) for load_case in campaign.load_cases)
    return [[pair.aligned() for pair in case.pairs(release)] for case in cases]


def _together_s(campaign: Campaign, blocks: list[list[AlignedPair]]) -> float:
    """Return the processor time of rating block by block, as scoring does."""
    start = time.process_time()
    for pairs in blocks:
        rate_many(pairs, campaign.settings, threads=1)
    return time.process_time() - start


def _single_s(blocks: list[list[AlignedPair]]) -> float:
    """Return the processor time of rating pair by pair."""
    start = time.process_time()
    for pairs in blocks:
        for pair in pairs:
            rate(pair)
    return time.process_time() - start
