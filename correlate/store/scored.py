"""Scoring with a store: what is there already, and what is rated anew."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from correlate.campaign.release_evidence import (
    ReleaseEvidence,
    TestFindings,
    checked_tests,
    evidence_by_release,
    state_of_check,
)
from correlate.campaign.scoring import CampaignScores, local_engine, score_campaign
from correlate.display import frame, row, short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.evidence import Unrated
from correlate.reference.finding import counted
from correlate.store.known_blocks import known_blocks, skipping_engine
from correlate.store.records import StoredRecords, places_of_evidence, places_of_pairs
from correlate.store.saving import saving_into
from correlate.store.sharing import KnownRatings, ReleaseLocks, shared_engine

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime

    from pandas import DataFrame

    from correlate.campaign import Campaign, LoadCase, Release
    from correlate.campaign.scoring import Engine, Progress, Rated
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.aggregates import NumberPair
    from correlate.store.overview import RatedPair
    from correlate.store.ratings import RatedRelease
    from correlate.store.rows import RunInfo
    from correlate.store.store import Store


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
        """Number of planned channels and resultants, as the scoreboard counts them."""
        return sum(_curves(one.load_case) for one in self.load_cases)


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
    return HeldRelease(
        release=release,
        absent=campaign.without_result(release),
        rated_pairs=rated.pairs if rated else 0,
        last_rated=rated.last_rated if rated else None,
    )


Pair = TypeVar("Pair", bound="Rated")


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredScores:
    """Result of scoring, and the evidence behind it.

    Attributes
    ----------
    scores
        Ratings of the requested releases.
    pairs
        The same ratings, with only the values that results are computed from.
    evidence
        Evidence of these releases, by name.
    """

    scores: CampaignScores
    pairs: Sequence[Rated]
    evidence: Mapping[str, ReleaseEvidence]

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a rated pair.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return self.scores.to_frame()


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRatings:
    """What a store holds of a campaign today.

    Attributes
    ----------
    pairs
        Rated pairs that are part of a number; a repeat that is not there any more has none.
    evidence
        Of every rated release, by name, in the order of the campaign.
    """

    pairs: tuple[RatedPair, ...]
    evidence: Mapping[str, ReleaseEvidence]

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a rated pair.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(row(pair) for pair in self.pairs)


def score_into(
    store: Store,
    campaign: Campaign,
    releases: Sequence[str] = (),
    *,
    run: RunInfo,
    progress: Progress | None = None,
    workers: int | None = None,
    engine: Engine | None = None,
) -> StoredScores:
    """Rate what is not in the store yet, save it block by block with its evidence, and return everything.

    Of several programs of one user that rate the same release at once, one rates; the others wait and use its
    ratings.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    releases
        Names; all when empty.
    run
        Who rates, when and with what.
    progress, workers, engine
        As for :func:`score_campaign`.

    Returns
    -------
    StoredScores

    Raises
    ------
    CorrelateError
        As :func:`score_campaign`, the waivers hold mistakes, or the store refuses.
    """
    names = list(releases) or [one.name for one in campaign.releases]
    saved = [one for name in names for one in store.evidence(campaign.title, release=name)]
    skipped = known_blocks(campaign, saved, lambda name: store.rated_keys(campaign.title, release=name))
    known = KnownRatings(store, campaign.title)

    def waiting(done: int, total: int) -> None:
        if progress is not None:
            progress(len(skipped) + done, len(skipped) + total)

    shared = shared_engine(
        engine or local_engine(workers),
        ReleaseLocks(store.place, campaign.title),
        look_again=known.look_again,
        waiting=waiting,
    )

    scores = score_campaign(
        campaign,
        releases=releases,
        known=known if len(skipped) < len(names) * len(campaign.load_cases) else None,
        saving=saving_into(store, run, saved=saved),
        progress=progress,
        workers=workers,
        engine=skipping_engine(shared, skipped),
    )
    if len(scores.records) < scores.new + scores.reused:
        scores.records = StoredRecords(store.address, campaign.title, scores.evidence)
    findings = _present_findings(store, campaign)
    return StoredScores(
        scores=scores,
        pairs=_pairs_in_order(store, campaign.title, scores.evidence),
        evidence=evidence_by_release(
            campaign,
            names,
            evidence=scores.evidence,
            findings=findings,
            earlier=store.rated_repeats(campaign.title),
        ),
    )


def _pairs_in_order(store: Store, campaign: str, evidence: Sequence[CaseEvidence]) -> list[NumberPair]:
    """Return the pairs that evidence names, in its order, with the values that results are computed from."""
    pairs: list[NumberPair] = []
    for release, places in places_of_evidence(evidence):
        counted_pairs, _ = store.number_pairs(campaign, release=release)
        found = {(one.load_case, one.channel, one.repeat): one for one in counted_pairs}
        pairs += [found[place] for place in places if place in found]
    return pairs


def stored_ratings(store: Store, campaign: Campaign) -> StoredRatings:
    """Return what a store holds of a campaign, judged by the files as they are now; nothing is rated.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.

    Returns
    -------
    StoredRatings

    Raises
    ------
    CorrelateError
        The waivers hold mistakes, or the store refuses.
    """
    pairs = store.rated_pairs(campaign.title)
    evidence = store.evidence(campaign.title)
    findings = store.findings(campaign.title)
    rated = {one.release for one in pairs}
    names = [release.name for release in campaign.releases if release.name in rated]
    return StoredRatings(
        pairs=tuple(current_pairs(pairs, evidence)),
        evidence=evidence_by_release(campaign, names, evidence=evidence, findings=findings, earlier=pairs),
    )


def stored_channel(
    store: Store, campaign: Campaign, *, release: str, load_case: str, channel: str
) -> dict[str, float]:
    """Return the stored ratings behind the number of a channel, by repeat; empty where there are none.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release, load_case, channel
        Names.

    Returns
    -------
    dict
    """
    pairs, _ = store.number_pairs(campaign.title, release=release, load_case=load_case, channel=channel)
    return {one.repeat: one.overall for one in pairs}


def newest_rated(store: Store, campaign: Campaign) -> str:
    """Return the last release of a campaign that has ratings; empty where none has."""
    rated = {one.name for one in store.releases(campaign.title)}
    return next((one.name for one in reversed(campaign.releases) if one.name in rated), "")


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class SavedRatings:
    """Ratings of some releases in a read-only store; nothing was rated.

    Attributes
    ----------
    stored
        Ratings and evidence, as after scoring.
    last_rated
        Start of the last run over the campaign; None where it was never rated.
    stale, not_rated
        Pairs whose files, settings or version differ from those that were rated, and planned pairs without a
        saved rating.
    """

    stored: StoredScores
    last_rated: datetime | None
    stale: int
    not_rated: int

    @property
    def words(self) -> str:
        """Say in one sentence where the numbers come from and what is missing."""
        if self.last_rated is None:
            return "the project is read-only, and it has no saved ratings"
        lacking = [
            f"{counted(count, 'pair')} {'is' if count == 1 else 'are'} {word}"
            for count, word in ((self.stale, "stale"), (self.not_rated, "not rated"))
            if count
        ]
        after = f"; {', '.join(lacking)}" if lacking else ", are complete and match the files"
        return f"the project is read-only; the ratings shown were saved on {self.last_rated.date()}{after}"


def saved_ratings(store: Store, campaign: Campaign, releases: Sequence[str] = ()) -> SavedRatings:
    """Return the saved ratings of some releases, checked against the present files; nothing is written.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    releases
        Names; all when empty.

    Returns
    -------
    SavedRatings

    Raises
    ------
    CorrelateError
        A release is unknown, the waivers contain mistakes, or the store cannot be read.
    """
    names = [campaign.release(name).name for name in releases] or [one.name for one in campaign.releases]
    evidence = [one for one in store.evidence(campaign.title) if one.release in names]
    counted_pairs = (
        one for name in dict.fromkeys(names) for one in store.number_pairs(campaign.title, release=name)[0]
    )
    pairs = _in_order(campaign, names, counted_pairs)
    judged = evidence_by_release(
        campaign,
        names,
        evidence=evidence,
        findings=store.findings(campaign.title),
        earlier=store.rated_repeats(campaign.title),
    )
    stale = {(name, gap.load_case) for name, one in judged.items() for gap in one.of("stale")}
    each = campaign.scoring.repeats == "each"
    planned = sum(
        (len(one.tests) if each else 1) * _curves(one.load_case) for one in holdings(campaign).load_cases
    )
    run = store.last_run(campaign.title)
    return SavedRatings(
        stored=StoredScores(
            scores=CampaignScores(
                records=StoredRecords(
                    store.address, campaign.title, evidence, partial(places_of_pairs, pairs)
                ),
                unrated=[*_not_rated(evidence)],
                reused=len(pairs),
                evidence=evidence,
            ),
            pairs=pairs,
            evidence=judged,
        ),
        last_rated=None if run is None else run.started,
        stale=sum((one.release, one.load_case) in stale for one in pairs),
        not_rated=max(0, planned * len(names) - len(pairs)),
    )


def _in_order(campaign: Campaign, names: Sequence[str], pairs: Iterable[NumberPair]) -> list[NumberPair]:
    """Sort as scoring does; pairs that the campaign no longer plans are no part of it."""
    places = [
        (name, case.name, channel)
        for name in names
        for case in campaign.load_cases
        for channel in case.rated_names
    ]
    order = {place: number for number, place in enumerate(places)}
    known = [one for one in pairs if (one.release, one.load_case, one.channel) in order]
    return sorted(known, key=lambda one: order[one.release, one.load_case, one.channel])


def _not_rated(evidence: Iterable[CaseEvidence]) -> Iterator[Unrated]:
    """Yield what could not be rated when it was tried last, with the reason."""
    for case in evidence:
        for channel in case.channels:
            for repeat, reason in channel.missing.items():
                yield Unrated(
                    case.release,
                    case.load_case,
                    channel.channel,
                    repeat,
                    reason,
                    channel.causes.get(repeat, ""),
                )


def rated_pairs_of(store: Store, campaign: Campaign, load_case: str) -> dict[str, int]:
    """Return how many rated pairs of a load case each release has: those that a further test makes stale.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    load_case
        Name.

    Returns
    -------
    dict
        By release, in the order of the campaign; releases without one are left out.
    """
    counts = {one.release: one.pairs for one in store.blocks(campaign.title) if one.load_case == load_case}
    return {one.name: counts[one.name] for one in campaign.releases if counts.get(one.name)}


def current_pairs(pairs: Iterable[Pair], evidence: Iterable[CaseEvidence]) -> Iterator[Pair]:
    """Leave out pairs that were rated once and are no part of the present numbers."""
    known = {(one.release, one.load_case): one for one in evidence}
    rated = {
        (case.release, case.load_case, channel.channel): set(channel.pairs)
        for case in known.values()
        for channel in case.channels
    }
    for pair in pairs:
        if (pair.release, pair.load_case) not in known or pair.repeat in rated.get(
            (pair.release, pair.load_case, pair.channel), ()
        ):
            yield pair


def present_findings(
    found: Mapping[str, TestFindings], campaign: Campaign, load_case: LoadCase
) -> TestFindings | None:
    """Return the saved findings in the tests of a load case; None if the tests or the register have changed.

    Parameters
    ----------
    found
        From `Store.findings`.
    campaign, load_case
        Whose tests.

    Returns
    -------
    TestFindings or None

    Raises
    ------
    FormatError
        The load case names tests that do not exist.
    """
    saved = found.get(load_case.name)
    # A register that was created since then counts as a change, too.
    return saved if saved is not None and saved.state == state_of_check(campaign, load_case) else None


def _present_findings(store: Store, campaign: Campaign) -> dict[str, TestFindings]:
    """Check the tests that were not checked as they are now; the findings of the others are in the store."""
    found = store.findings(campaign.title)
    for case in campaign.load_cases:
        if present_findings(found, campaign, case) is not None:
            continue
        try:
            found[case.name] = checked_tests(campaign, case)
        except CorrelateError:
            continue  # without findings of the present tests the evidence says that they were not checked
        one = found[case.name]
        store.save_findings(campaign.title, case.name, state=one.state, content=one.as_plain())
    return found
