"""One load case of a release as the document shows it: curves, ratings, ceilings, criteria and windows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.errors import CorrelateError
from correlate.evaluation.case import CaseEvaluation, recording_of, typical_repeat
from correlate.evaluation.curves import Missing
from correlate.report.release_criteria import case_criteria, case_windows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from correlate.campaign import Campaign, Change, ChannelCeiling, LoadCase, PairRecord, Release, Score
    from correlate.criteria import Device, Window, WindowBook
    from correlate.evaluation.pair_score import PairScore
    from correlate.report.release_criteria import CaseCriteria, CaseWindows

Place = tuple[str, str]
"""Load case and channel."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelPart:
    """One rated quantity of a load case.

    Attributes
    ----------
    score
        Over its repeats.
    ceiling
        Of the hardware; None where it is not known.
    change
        Against the baseline; None without one.
    records
        One a rated repeat.
    shown
        The pair whose rating is nearest to the mean; None where none is rated.
    repeat
        Its name.
    """

    score: Score
    ceiling: ChannelCeiling | None
    change: Change | None
    records: tuple[PairRecord, ...]
    shown: PairScore | None
    repeat: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CasePart:
    """One load case.

    Attributes
    ----------
    load_case
        Its entry in the campaign file.
    score
        Of the release.
    channels
        In the order of the file.
    criteria, windows
        None where the document was not told which device or test they are of.
    """

    load_case: LoadCase
    score: Score
    channels: tuple[ChannelPart, ...]
    criteria: CaseCriteria | None
    windows: CaseWindows | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardsticks:
    """What tests and model are held against beside each other.

    Attributes
    ----------
    device
        Whose criteria are computed; None for none.
    windows
        By load case.
    book
        How their quantities are measured.
    """

    device: Device | None
    windows: Mapping[str, Window]
    book: WindowBook


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseNumbers:
    """What is known of all load cases before their curves are read.

    Attributes
    ----------
    records
        Rated pairs by load case and channel.
    ceilings, changes
        By load case and channel.
    """

    records: Mapping[Place, Sequence[PairRecord]]
    ceilings: Mapping[Place, ChannelCeiling]
    changes: Mapping[Place, Change]


def case_part(
    campaign: Campaign,
    release: Release,
    score: Score,
    numbers: CaseNumbers,
    yardsticks: Yardsticks,
) -> CasePart:
    """Read the curves of a load case and put its numbers beside them.

    Parameters
    ----------
    campaign, release
        Whose.
    score
        Of the load case.
    numbers
        Of all load cases.
    yardsticks
        Criteria and windows that are asked for.

    Returns
    -------
    CasePart

    Raises
    ------
    CorrelateError
        A load case names tests that are not there, or a test cannot be read where criteria or windows are
        asked for.
    """
    load_case = campaign.load_case(score.name)
    case = CaseEvaluation(campaign, load_case)
    leaves = dict(_leaves(score))
    channels = tuple(_channel(case, release, leaves[name], numbers) for name in case.channels)
    criteria, windows = None, None
    model = case.model(release)
    if not isinstance(model, Missing):
        window = yardsticks.windows.get(load_case.name)
        tests = [recording_of(case.test(name)) for name in case.paths] if yardsticks.device or window else []
        if yardsticks.device is not None:
            criteria = case_criteria(load_case, tests, model, yardsticks.device)
        if window is not None:
            windows = case_windows(load_case, tests, model, window, yardsticks.book)
    return CasePart(load_case=load_case, score=score, channels=channels, criteria=criteria, windows=windows)


def _leaves(score: Score) -> Iterator[tuple[str, Score]]:
    for part in score.parts:
        if part.kind == "channel":
            yield part.name, part
        else:
            yield from _leaves(part)


def _channel(case: CaseEvaluation, release: Release, score: Score, numbers: CaseNumbers) -> ChannelPart:
    place = (case.load_case.name, score.name)
    records = tuple(numbers.records.get(place, ()))
    typical = typical_repeat({one.repeat: one.overall for one in records})
    return ChannelPart(
        score=score,
        ceiling=numbers.ceilings.get(place),
        change=numbers.changes.get(place),
        records=records,
        shown=_shown(case, release, score.name, typical),
        repeat=typical,
    )


def _shown(case: CaseEvaluation, release: Release, channel: str, repeat: str) -> PairScore | None:
    """Return the pair that is drawn, with the corridors around it; None where there is none."""
    if not repeat:
        return None
    try:
        return case.pair(release, channel, repeat).score()
    except CorrelateError:
        return None  # listed with the reason among what is not rated
