"""What a project holds: tests, results of releases, and how much of them is rated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from correlate.campaign import Campaign, LoadCase, Release
    from correlate.store.ratings import RatedRelease


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRelease:
    """A release and what there is of it.

    Attributes
    ----------
    release
        As the campaign file names it.
    absent
        Load cases whose result file is not there.
    rated_pairs
        In the store.
    last_rated
        None when it never was.
    """

    release: Release
    absent: tuple[str, ...]
    rated_pairs: int
    last_rated: datetime | None


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLoadCase:
    """A load case and its tests.

    Attributes
    ----------
    load_case
        As the campaign file plans it.
    tests
        Names of the repeats.
    problem
        Why the tests cannot be found; empty when they can.
    """

    load_case: LoadCase
    tests: tuple[str, ...]
    problem: str = ""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Holdings:
    """What a project holds.

    Attributes
    ----------
    releases, load_cases
        In the order of the campaign file.
    pairs
        That each release should have: every repeat of every planned channel and resultant.
    """

    releases: tuple[HeldRelease, ...]
    load_cases: tuple[HeldLoadCase, ...]
    pairs: int

    @property
    def tests(self) -> int:
        """Number of tests."""
        return sum(len(one.tests) for one in self.load_cases)

    @property
    def channels(self) -> int:
        """Number of planned channels."""
        return sum(len(one.load_case.channel) for one in self.load_cases)


def holdings(campaign: Campaign, rated: Iterable[RatedRelease] = ()) -> Holdings:
    """Look which tests and results of a campaign are there. Files are found, not read.

    Parameters
    ----------
    campaign
        The campaign.
    rated
        Of its store.

    Returns
    -------
    Holdings
    """
    by_name = {one.name: one for one in rated}
    cases = tuple(_held_case(campaign, case) for case in campaign.load_cases)
    return Holdings(
        releases=tuple(_held_release(campaign, one, by_name.get(one.name)) for one in campaign.releases),
        load_cases=cases,
        pairs=sum(len(one.tests) * _curves(one.load_case) for one in cases),
    )


def _held_case(campaign: Campaign, case: LoadCase) -> HeldLoadCase:
    try:
        paths = campaign.test_paths(case)
    except CorrelateError as error:
        return HeldLoadCase(load_case=case, tests=(), problem=str(error))
    return HeldLoadCase(load_case=case, tests=tuple(path.stem for path in paths))


def _curves(case: LoadCase) -> int:
    return len(case.channel) + len(case.resultant)


def _held_release(campaign: Campaign, release: Release, rated: RatedRelease | None) -> HeldRelease:
    absent = [case.name for case in campaign.load_cases if not campaign.model_path(release, case).exists()]
    return HeldRelease(
        release=release,
        absent=tuple(absent),
        rated_pairs=rated.pairs if rated else 0,
        last_rated=rated.last_rated if rated else None,
    )
