"""The scoreboard of a store: numbers, decision, sign-offs and remarks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

from correlate.campaign import (
    TrendPoint,
    aggregate,
    ceiling_scores,
    decide,
    release_before,
    release_matrix,
    scoreboard,
)
from correlate.campaign.release_evidence import EvidenceToday, case_summary, marks_of_gaps, repeats_by_place
from correlate.display import short_repr
from correlate.evaluation.evidence import InputStates
from correlate.file_hashes import file_hashes
from correlate.reference.finding import load_waivers
from correlate.remembered import Remembered
from correlate.store.signing import sign_offs_today

if TYPE_CHECKING:
    from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence

    from correlate.campaign import Campaign, Decision, ReleaseMatrix, ReleaseScore, Scoreboard
    from correlate.campaign.release_evidence import CaseSummary, Gap, ReleaseEvidence, TestFindings
    from correlate.store.aggregates import BlockRow
    from correlate.store.remarks import Note
    from correlate.store.rows import RunInfo
    from correlate.store.signing import SignOffToday
    from correlate.store.store import Store

_SCORES: Final = Remembered["ReleaseScore"](24)
"""Numbers of releases, each about 2 MB for 1,600 channels."""

_CEILINGS: Final = Remembered["ReleaseScore"](4)
"""Combined ceilings of campaigns."""

_REPEATS: Final = Remembered[dict[str, dict[str, set[str]]]](4)
"""Repeats that any release was rated with, by load case and channel."""

_TOTALS: Final = Remembered[tuple[float | None, float | None]](4096)
"""The two results of every release that the trend shows."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredNumbers:
    """The numbers of rated releases of a campaign.

    Attributes
    ----------
    scores
        Of releases by name, in the order of the campaign file: of all rated ones, or of a release and its
        baseline, if they were asked for alone.
    evidence
        The evidence behind each of these releases.
    ceilings
        Ceilings of the hardware; None if none is known.
    rated
        Names of all rated releases, in the order of the campaign file.
    """

    scores: Mapping[str, ReleaseScore]
    evidence: Mapping[str, ReleaseEvidence]
    ceilings: ReleaseScore | None
    rated: tuple[str, ...] = ()

    @property
    def newest(self) -> str:
        """Name of the last rated release; empty where none is."""
        return next(reversed(self.rated), "")

    def board(self, campaign: Campaign, *, release: str = "", against: str = "") -> Scoreboard:
        """Put one release beside another; see :func:`correlate.campaign.scoreboard.scoreboard`."""
        return scoreboard(
            campaign,
            self.scores,
            release=release,
            against=against,
            ceilings=self.ceilings,
            evidence=self.evidence,
        )

    def matrix(
        self,
        campaign: Campaign,
        *,
        releases: Sequence[str] = (),
        against: str = "",
        places: Collection[tuple[str, str]] | None = None,
    ) -> ReleaseMatrix:
        """Return the cells of some releases; see :func:`correlate.campaign.matrix.release_matrix`."""
        return release_matrix(
            campaign,
            self.scores,
            evidence=self.evidence,
            ceilings=self.ceilings,
            releases=releases,
            against=against,
            places=places,
        )


def stored_numbers(
    store: Store, campaign: Campaign, *, release: str | None = None, against: str = ""
) -> StoredNumbers:
    """Combine what a store holds of rated releases; nothing is rated.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release, against
        The release to read (the last rated one when empty) and its baseline (the rated one before it when
        empty). When None, all releases are read, which takes longer.

    Returns
    -------
    StoredNumbers

    Raises
    ------
    CorrelateError
        The waivers contain mistakes, or the store cannot be read.
    """
    return StoredResults(store, campaign).numbers(release=release, against=against)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTrend:
    """The overall ratings of all rated releases.

    Attributes
    ----------
    points
        One for each release, in the order of the campaign file.
    ceiling
        Rating of the hardware over the load cases that tuning may use; None if none is known.
    """

    points: tuple[TrendPoint, ...]
    ceiling: float | None


class StoredResults:
    """Results of rated releases in a store at one moment; rows that several queries need are read once.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.

    Raises
    ------
    CorrelateError
        The waivers contain mistakes, or the store cannot be read.
    """

    def __init__(self, store: Store, campaign: Campaign) -> None:
        self._store, self._campaign = store, campaign
        self._reader = _Reader(store, campaign)

    def numbers(self, *, release: str | None = None, against: str = "") -> StoredNumbers:
        """Return the numbers of releases; see :func:`stored_numbers`."""
        reader = self._reader
        wanted = reader.rated if release is None else reader.pair(release, against)
        found = StoredNumbers(
            scores={name: reader.score(name) for name in wanted},
            evidence={name: reader.evidence(name) for name in wanted},
            ceilings=self._ceilings,
            rated=tuple(reader.rated),
        )
        file_hashes(self._campaign.folder).save()
        return found

    def trend(self) -> StoredTrend:
        """Return the overall ratings of all rated releases."""
        points = tuple(map(self._reader.point, self._reader.rated))
        file_hashes(self._campaign.folder).save()
        ceilings = self._ceilings
        return StoredTrend(points=points, ceiling=None if ceilings is None else ceilings.training.overall)

    def cells(
        self, *, releases: Sequence[str], places: Collection[tuple[str, str]], against: str = ""
    ) -> ReleaseMatrix:
        """Return some cells of the matrix of rated releases; only their ratings are read.

        Parameters
        ----------
        releases, against
            Names of rated releases, as for :func:`correlate.campaign.matrix.release_matrix`.
        places
            Load case and channel of the cells.

        Returns
        -------
        ReleaseMatrix

        Raises
        ------
        SettingsError
            A release is not rated.
        CorrelateError
            The store cannot be read.
        """
        campaign, reader = self._campaign, self._reader
        needed = {*releases, *(against or release_before(reader.rated, one) for one in releases)}
        names = [one for one in reader.rated if one in needed]
        pairs = self._store.number_pairs_at(campaign.title, releases=names, places=places)
        found = release_matrix(
            campaign,
            {name: aggregate(campaign, pairs, name, places=places) for name in names},
            evidence=reader.lacking(names, places),
            ceilings=self._ceilings,
            releases=releases,
            against=against,
            places=places,
        )
        file_hashes(campaign.folder).save()
        return found

    @cached_property
    def _ceilings(self) -> ReleaseScore | None:
        return _ceilings(self._store, self._campaign)


def _ceilings(store: Store, campaign: Campaign) -> ReleaseScore | None:
    """Return the combined ceilings of a campaign; cached for the same ceilings and weights."""
    found = tuple(store.ceilings(campaign.title))
    key = _identity(campaign), found
    known = _CEILINGS.get(key)
    if known is None and (known := ceiling_scores(campaign, found)) is not None:
        _CEILINGS.put(key, known)
    return known


def _identity(campaign: Campaign) -> Hashable:
    """Return the hash of a campaign file, or the identity of the object if it has no file."""
    return campaign.sha256 or id(campaign)


class _Reader:
    """Reads the results of releases, each once and only on request."""

    def __init__(self, store: Store, campaign: Campaign) -> None:
        self._store, self._campaign = store, campaign
        self._blocks: dict[str, dict[str, BlockRow]] = {}
        for block in store.blocks(campaign.title):
            self._blocks.setdefault(block.release, {})[block.load_case] = block
        self._findings, self._waivers = store.findings(campaign.title), load_waivers(campaign.folder)
        self._states = InputStates(campaign)
        self._today = self._evidence_of(self._findings)
        self._gaps: dict[str, tuple[Gap, ...]] = {}
        self.rated = [
            one.name
            for one in campaign.releases
            if any(block.counted for block in self._blocks.get(one.name, {}).values())
        ]

    def _evidence_of(self, findings: Mapping[str, TestFindings]) -> EvidenceToday:
        return EvidenceToday(self._campaign, findings=findings, waivers=self._waivers, states=self._states)

    def pair(self, release: str, against: str) -> list[str]:
        """Return a rated release and its baseline in the order of the campaign; the last one by default."""
        name = release if release in self.rated else next(reversed(self.rated), "")
        if not name:
            return []
        baseline = against or release_before(self.rated, name)
        return [one for one in self.rated if one in {name, baseline}]

    def score(self, release: str) -> ReleaseScore:
        """Combine the pairs of a release, unless these were combined with these weights before."""
        key = self._key(release)
        known = _SCORES.get(key)
        if known is None:
            known, is_current = self._combined(release)
            if is_current:
                _SCORES.put(key, known)
                _TOTALS.put(key, _totals(known))
        return known

    def _combined(self, release: str) -> tuple[ReleaseScore, bool]:
        """Combine the pairs of a release, and tell whether they are those of its blocks."""
        pairs, digests = self._store.number_pairs(self._campaign.title, release=release)
        # Other ratings may have been saved since the blocks were read; they have another hash.
        expected = {(release, case): block.digest for case, block in self._rated_blocks(release).items()}
        return aggregate(self._campaign, pairs, release), digests == expected

    def point(self, release: str) -> TrendPoint:
        """Return a release as a point of the trend."""
        key = self._key(release)
        totals = _TOTALS.get(key)
        if totals is None:
            score, is_current = self._combined(release)
            totals = _totals(score)
            if is_current:
                _TOTALS.put(key, totals)
        marks = marks_of_gaps(self.gaps(release))
        return TrendPoint(release=release, training=totals[0], held_out=totals[1], marks=marks)

    def gaps(self, release: str) -> tuple[Gap, ...]:
        """Return the gaps of a release."""
        if release not in self._gaps:
            self._gaps[release] = self._today.gaps(release, self._summaries(release))
        return self._gaps[release]

    def _summaries(self, release: str) -> dict[str, CaseSummary]:
        found = self._blocks.get(release, {}).items()
        known = {case: block.summary for case, block in found if block.summary is not None}
        return known | self._with_others(release, known)

    def _with_others(self, release: str, known: Collection[str]) -> dict[str, CaseSummary]:
        """Return the summaries that change because other releases were rated with further repeats."""
        # A block has ratings of some of these repeats; if it has as many, they are the same.
        short = {
            case
            for case in known
            if self._blocks[release][case].pairs < sum(map(len, self._repeats.get(case, {}).values()))
        }
        if not short:
            return {}
        evidence = self._store.evidence(self._campaign.title, release=release)
        return {
            one.load_case: case_summary(one, self._repeats[one.load_case])
            for one in evidence
            if one.load_case in short
        }

    @cached_property
    def _repeats(self) -> dict[str, dict[str, set[str]]]:
        """Repeats that any release was rated with, unless they were read before from the same blocks."""
        blocks = (
            (name, case, one.digest) for name, held in self._blocks.items() for case, one in held.items()
        )
        key = self._store.place, self._campaign.title, tuple(blocks)
        known = _REPEATS.get(key)
        if known is None:
            known = repeats_by_place(self._store.rated_repeats(self._campaign.title))
            _REPEATS.put(key, known)
        return known

    def evidence(self, release: str) -> ReleaseEvidence:
        """Return the evidence behind a release."""
        cases = {one.load_case: one for one in self._store.evidence(self._campaign.title, release=release)}
        return self._today.evidence(release, cases, self.gaps(release))

    def lacking(
        self, releases: Iterable[str], places: Collection[tuple[str, str]]
    ) -> dict[str, ReleaseEvidence]:
        """Return the gaps of releases and the findings in some channels, without the rest of the evidence."""
        today = self._evidence_of(_findings_at(self._campaign, self._findings, places))
        return {name: today.evidence(name, {}, today.gaps(name, self._summaries(name))) for name in releases}

    def _rated_blocks(self, release: str) -> dict[str, BlockRow]:
        return {case: block for case, block in self._blocks[release].items() if block.pairs}

    def _key(self, release: str) -> Hashable:
        """Return the hashes of the inputs of the results of a release: campaign file and pairs."""
        pairs = tuple(sorted((case, block.digest) for case, block in self._rated_blocks(release).items()))
        return _identity(self._campaign), self._campaign.title, release, pairs


def _findings_at(
    campaign: Campaign, findings: Mapping[str, TestFindings], places: Collection[tuple[str, str]]
) -> dict[str, TestFindings]:
    """Leave of the findings those of some channels, of the axes of resultants, and of whole tests."""
    axes = {(case.name, plan.name): plan.axes for case in campaign.load_cases for plan in case.resultant}
    wanted = {*places, *((case, axis) for case, name in places for axis in axes.get((case, name), ()))}
    return {
        case: replace(
            one, findings=tuple(f for f in one.findings if not f.channel or (case, f.channel) in wanted)
        )
        for case, one in findings.items()
    }


def _totals(score: ReleaseScore) -> tuple[float | None, float | None]:
    return score.training.overall, None if score.held_out is None else score.held_out.overall


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredBoard:
    """The scoreboard of a release, and where its numbers come from.

    Attributes
    ----------
    board
        One release against another.
    decision
        What follows from it.
    releases
        Names of the rated ones, in the order of the campaign file.
    run
        The last one over the campaign; None where there is none.
    sign_offs
        Of the release, oldest first.
    notes
        On the release and on the campaign as a whole, oldest first.
    """

    board: Scoreboard
    decision: Decision
    releases: tuple[str, ...]
    run: RunInfo | None
    sign_offs: tuple[SignOffToday, ...]
    notes: tuple[Note, ...]


def stored_board(store: Store, campaign: Campaign, *, release: str = "", against: str = "") -> StoredBoard:
    """Put a release beside another, from what a store holds; nothing is rated.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release, against
        Names, as for :func:`correlate.campaign.scoreboard.scoreboard`.

    Returns
    -------
    StoredBoard

    Raises
    ------
    SettingsError
        A release is not rated.
    CorrelateError
        The waivers contain mistakes, or the store cannot be read.
    """
    numbers = stored_numbers(store, campaign, release=release, against=against)
    board = numbers.board(campaign, release=release, against=against)
    name = board.release
    return StoredBoard(
        board=board,
        decision=decide(campaign, board),
        releases=numbers.rated,
        run=store.last_run(campaign.title),
        sign_offs=tuple(sign_offs_today(store, campaign, name, numbers.evidence[name])),
        notes=tuple(one for one in store.notes(campaign=campaign.title) if one.release in {"", name}),
    )
