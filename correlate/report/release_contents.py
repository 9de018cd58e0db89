"""The contents of a release document."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from correlate.campaign import (
    campaign_ceilings,
    ceiling_scores,
    compare,
    release_scores,
    score_campaign,
    scoreboard,
)
from correlate.campaign.comparison import leaves
from correlate.campaign.explanation import explain
from correlate.campaign.release_evidence import evidence_by_release
from correlate.errors import CorrelateError, SettingsError
from correlate.evaluation.case import CaseEvaluation, recording_of, typical_repeat
from correlate.evaluation.curves import Missing
from correlate.evaluation.tables import RATING
from correlate.report.release_parts import case_criteria, case_windows
from correlate.store.scored import current_pairs

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from correlate.campaign import (
        Campaign,
        CampaignScores,
        Change,
        ChannelCeiling,
        LoadCase,
        PairRecord,
        Release,
        ReleaseScore,
        Score,
        Scoreboard,
    )
    from correlate.campaign.explanation import Explanation
    from correlate.campaign.release_evidence import ReleaseEvidence, TestFindings
    from correlate.criteria import Device, Window, WindowBook
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.pairs import PairScore
    from correlate.report.release_parts import CaseCriteria, CaseWindows
    from correlate.store import RunInfo
    from correlate.store.remarks import Note, SignOff


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
    """Read the curves of a load case and put its numbers beside them."""
    load_case = campaign.load_case(score.name)
    case = CaseEvaluation(campaign, load_case)
    channels_of = {one.name: one for _, one in leaves(score, ())}
    channels = tuple(_channel(case, release, channels_of[name], numbers) for name in case.channels)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptResults:
    """What the results store holds of a campaign.

    Attributes
    ----------
    records
        The present rating of every pair of every release.
    ceilings
        Of its channels.
    runs
        Who rated when, oldest first.
    notes, sign_offs
        Of the release in question and of the campaign as a whole.
    ratings_sha256
        Hash of the present ratings of the release, as a sign-off keeps it.
    findings
        Of the data check, by load case, as they were saved.
    evidence
        Which pairs each load case of each release had when it was rated last.
    """

    records: Sequence[PairRecord]
    ceilings: Sequence[ChannelCeiling]
    runs: Sequence[RunInfo]
    notes: Sequence[Note]
    sign_offs: Sequence[SignOff]
    ratings_sha256: str
    findings: Mapping[str, TestFindings] = field(default_factory=dict)
    evidence: Sequence[CaseEvidence] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReleaseContents:
    """What the document of a release says.

    Attributes
    ----------
    campaign, release
        Whose.
    baseline
        Score of the release it is compared with; None for the first.
    score
        Of the release.
    board
        Release against baseline.
    changes
        Everything that changed; empty without a baseline.
    cases
        In the order of the file.
    explanation
        Where the rating is lost.
    scores
        Rated pairs, what could not be rated, what is in no pair.
    kept
        What the store holds.
    evidence
        What the release stands on.
    no_ceilings
        Why no ceiling is known; empty where there are some.
    yardsticks
        Criteria and windows that were asked for.
    day
        Date of the document.
    """

    campaign: Campaign
    release: Release
    baseline: ReleaseScore | None
    score: ReleaseScore
    board: Scoreboard
    changes: tuple[Change, ...]
    cases: tuple[CasePart, ...]
    explanation: Explanation
    scores: CampaignScores
    kept: KeptResults
    evidence: ReleaseEvidence
    no_ceilings: str
    yardsticks: Yardsticks
    day: date


def rated_releases(
    campaign: Campaign, records: Iterable[PairRecord], release: str, baseline: str
) -> list[str]:
    """Return the release in question and, where there is one, the release it is compared with."""
    board = scoreboard(campaign, release_scores(campaign, records), release=release, against=baseline)
    return [name for name in (board.release, board.against) if name is not None]


def present_scores(campaign: Campaign, records: Sequence[PairRecord], names: Sequence[str]) -> CampaignScores:
    """Return the ratings of releases, after a look at whether they are those of the present data."""
    scores = score_campaign(
        campaign, releases=names, known={record.key: record for record in records}, workers=1
    )
    if scores.new:
        pairs = "one pair is" if scores.new == 1 else f"{scores.new} pairs are"
        raise SettingsError(
            f"{pairs} not rated with the present data, settings and version, of {' and '.join(names)}",
            where=str(campaign.path),
            remedy=f"run: correlate score {campaign.folder}",
        )
    return scores


def release_contents(
    campaign: Campaign,
    kept: KeptResults,
    names: Sequence[str],
    *,
    yardsticks: Yardsticks,
    day: date,
) -> ReleaseContents:
    """Gather what the document of a release says."""
    scores = present_scores(campaign, kept.records, names)
    present = current_pairs(kept.records, kept.evidence)
    others = [record for record in present if record.release not in names]
    found = release_scores(campaign, [*others, *scores.records])
    ceilings, no_ceilings = _ceilings(campaign, kept.ceilings)
    evidence = evidence_by_release(
        campaign, names, evidence=scores.evidence, findings=kept.findings, earlier=kept.records
    )
    board = scoreboard(
        campaign,
        found,
        release=names[0],
        against=names[1] if len(names) > 1 else "",
        ceilings=ceiling_scores(campaign, ceilings),
        evidence=evidence,
    )
    score = found[names[0]]
    baseline = found[names[1]] if len(names) > 1 else None
    changes = tuple(compare(baseline, score, evidence)) if baseline is not None else ()
    numbers = _numbers(scores.records, names[0], ceilings, changes)
    release = campaign.release(names[0])
    return ReleaseContents(
        campaign=campaign,
        release=release,
        baseline=baseline,
        score=score,
        board=board,
        changes=changes,
        cases=tuple(
            case_part(campaign, release, _load_case(score, case.name), numbers, yardsticks)
            for case in campaign.load_cases
        ),
        explanation=explain(campaign, scores.records, names[0]),
        scores=scores,
        kept=kept,
        evidence=evidence[names[0]],
        no_ceilings=no_ceilings,
        yardsticks=yardsticks,
        day=day,
    )


def _load_case(score: ReleaseScore, name: str) -> Score:
    held_out = () if score.held_out is None else score.held_out.parts
    return next(part for part in [*score.training.parts, *held_out] if part.name == name)


def _ceilings(campaign: Campaign, kept: Iterable[ChannelCeiling]) -> tuple[list[ChannelCeiling], str]:
    """Return the ceilings of the data as they lie there now; what is kept of them is not rated again."""
    if campaign.scoring.main != RATING:
        return [], "the campaign combines another measure than the rating"
    try:
        found = list(campaign_ceilings(campaign, known={one.key: one for one in kept}))
    except CorrelateError as error:
        return [], str(error)
    return found, "" if found else "no channel has three repeats"


def _numbers(
    records: Iterable[PairRecord],
    release: str,
    ceilings: Iterable[ChannelCeiling],
    changes: Iterable[Change],
) -> CaseNumbers:
    by_place: dict[Place, list[PairRecord]] = {}
    for record in records:
        if record.release == release:
            by_place.setdefault((record.load_case, record.channel), []).append(record)
    return CaseNumbers(
        records=by_place,
        ceilings={(one.load_case, one.channel): one for one in ceilings},
        changes={(one.place[0], one.place[-1]): one for one in changes if one.kind == "channel"},
    )
