"""Scoring one block: all channels and repeats of one load case against one release.

A block is what a worker does at a time. The curves of the tests are kept as long as blocks of the same load
case follow each other, because every release is rated against the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from correlate.errors import CorrelateError
from correlate.evaluation.case import CaseEvaluation
from correlate.evaluation.curves import Missing
from correlate.evaluation.evidence import (
    CaseEvidence,
    ChannelEvidence,
    Unpaired,
    Unrated,
    inputs_state,
    pairs_sha256,
    state_of_tests,
)
from correlate.evaluation.record import PairNames, PairRecord, record_of
from correlate.metrics import evaluate_measures
from correlate.metrics.iso18571 import check_pair, rate_checked

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from correlate.evaluation.case import CasePair
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.metrics import Evaluation
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True)
class Known:
    """A pair whose rating is known already.

    Attributes
    ----------
    key
        Of the rating.
    names, inputs
        Of this pair; the known rating may have been kept under others.
    """

    key: str
    names: PairNames
    inputs: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Block:
    """Result of one block.

    Attributes
    ----------
    pairs
        Newly rated and known pairs, in the order of the file.
    unrated, unpaired
        What could not be rated, and what was in no pair.
    evidence
        The evidence behind the ratings.
    skipped
        Number of pairs with a known rating that was not read; they are not among the pairs.
    saved
        Number of new ratings that were saved where they were computed; they are not among the pairs.
    """

    pairs: list[PairRecord | Known]
    unrated: list[Unrated]
    unpaired: list[Unpaired]
    evidence: CaseEvidence
    skipped: int = 0
    saved: int = 0

    @property
    def is_new(self) -> bool:
        """Whether there are ratings, and all of them are new."""
        return bool(self.saved or self.pairs) and not any(isinstance(pair, Known) for pair in self.pairs)


@dataclass(frozen=True, slots=True)
class _Ready:
    """A pair that waits to be rated with others."""

    key: str
    pair: CasePair
    aligned: AlignedPair
    also: tuple[Evaluation, ...]

    def record(self, rating: Rating) -> PairRecord:
        """Return the record of its rating."""
        return record_of(
            self.pair.names,
            rating,
            key=self.key,
            inputs=self.pair.inputs,
            settings=self.pair.how.words,
            also=self.also,
            flags=(*rating.flags, *self.pair.conditioning_flags),
        )


class BlockScorer:
    """Scores blocks of one campaign, one after the other."""

    def __init__(self, campaign: Campaign) -> None:
        self._campaign = campaign
        self._case: CaseEvaluation | None = None
        self._tests = ("", "")

    def score(self, load_case: LoadCase, release: Release, known: Collection[str]) -> Block:
        """Rate every pair of a block that is not known; the tests of the last load case are remembered.

        A worker may hold its scorer from one run to the next, so tests that changed since are read again.
        """
        tests = load_case.name, state_of_tests(self._campaign, load_case)
        if self._case is None or self._tests != tests:
            self._case, self._tests = CaseEvaluation(self._campaign, load_case), tests
        return score_block(self._case, release, known)


def score_block(case: CaseEvaluation, release: Release, known: Collection[str]) -> Block:
    """Rate every pair of one load case of one release that is not known."""
    # Before anything is read: what changes meanwhile is then stale, and never looks fresh.
    state = inputs_state(case.campaign, release, case.load_case)
    case.condition_tests()
    measures = case.campaign.scoring.measures
    planned = [_planned(pair, known, measures) for pair in case.pairs(release)]
    unrated = [one for one in planned if isinstance(one, Unrated)]
    pairs = _rated([one for one in planned if not isinstance(one, Unrated)], case.campaign.settings)
    growth = case.growth(release)
    if growth is not None:
        unrated += [_unrated(pair.names if isinstance(pair, Known) else pair, growth) for pair in pairs]
        pairs = []
    unpaired = _unpaired(case, release)
    evidence = _evidence(case, release, state, unrated)
    # What another installation, other limits or a later time could read is looked at again.
    if growth is None and case.is_read(release):
        evidence = replace(
            evidence,
            pairs_sha256=pairs_sha256(_named_keys(pairs)),
            unrated=tuple(one.within(case.campaign.folder) for one in unrated),
            unpaired=tuple(unpaired),
        )
    case.forget_model()
    return Block(pairs=pairs, unrated=unrated, unpaired=unpaired, evidence=evidence)


def _named_keys(pairs: Sequence[PairRecord | Known]) -> Iterator[tuple[str, str, str]]:
    """Yield channel, repeat and key of the rating of each pair."""
    for pair in pairs:
        names = pair.names if isinstance(pair, Known) else pair
        yield names.channel, names.repeat, pair.key


def _planned(pair: CasePair, known: Collection[str], measures: tuple[str, ...]) -> Known | _Ready | Unrated:
    """Return a pair to be rated with others, unless a curve is missing or the rating is known."""
    try:
        key = pair.key
        if key in known:
            return Known(key, pair.names, pair.inputs)
        aligned = pair.aligned()
        check_pair(aligned)
        return _Ready(key, pair, aligned, evaluate_measures(measures, aligned))
    except CorrelateError as error:
        return _unrated(pair.names, error)


def _unrated(names: PairNames | PairRecord, error: CorrelateError) -> Unrated:
    return Unrated(names.release, names.load_case, names.channel, names.repeat, str(error), error.cause)


def _rated(pairs: Sequence[Known | _Ready], settings: RatingSettings) -> list[PairRecord | Known]:
    """Rate the ready pairs together, and return all results in the original order."""
    ready = [one.aligned for one in pairs if isinstance(one, _Ready)]
    ratings = iter(rate_checked(ready, settings, threads=1))
    return [one.record(next(ratings)) if isinstance(one, _Ready) else one for one in pairs]


def _evidence(case: CaseEvaluation, release: Release, state: str, unrated: Sequence[Unrated]) -> CaseEvidence:
    """Say of every channel which repeats there should be, and what became of them."""
    reasons = {(one.channel, one.repeat): one for one in unrated}
    return CaseEvidence(
        campaign=case.campaign.title,
        release=release.name,
        load_case=case.load_case.name,
        state=state,
        channels=tuple(_channel_evidence(case, name, reasons) for name in case.channels),
    )


def _channel_evidence(
    case: CaseEvaluation, channel: str, reasons: Mapping[tuple[str, str], Unrated]
) -> ChannelEvidence:
    curves = case.repeats(channel)
    missing = {name: one.reason for name, one in curves.items() if isinstance(one, Missing)}
    causes = {name: one.error.cause for name, one in curves.items() if isinstance(one, Missing)}
    found = tuple(name for name in curves if name not in missing)
    # The mean stands for every repeat in it: what cannot be rated of it cannot be rated of any.
    together = case.campaign.scoring.repeats == "mean curve"
    shared = next((one for (name, _), one in reasons.items() if name == channel), None)
    not_rated = {name: shared if together else reasons.get((channel, name)) for name in found}
    missing |= {name: one.reason for name, one in not_rated.items() if one is not None}
    causes |= {name: one.cause for name, one in not_rated.items() if one is not None}
    # Named from the project folder on: evidence is shown to people who need not know where it lies.
    folder = f"{case.campaign.folder}/"
    missing = {name: reason.replace(folder, "") for name, reason in missing.items()}
    return ChannelEvidence(
        channel=channel,
        expected=max(len(curves), case.load_case.expected_repeats or 0),
        found=found,
        rated=tuple(name for name in found if name not in missing),
        missing=missing,
        pairs=tuple(name for name in case.references(channel) if (channel, name) not in reasons),
        causes=causes,
    )


def _unpaired(case: CaseEvaluation, release: Release) -> list[Unpaired]:
    name, folder = case.load_case.name, f"{case.campaign.folder}/"
    sides = (("test", ""), ("model", release.name))
    both = zip(sides, case.spare_channels(release), case.spare_set_aside(release), strict=True)
    return [
        Unpaired(side, of, name, spare, tuple(str(one).replace(folder, "") for one in aside))
        for (side, of), spare, aside in both
        if spare or aside
    ]
