"""Score a whole campaign: blocks on all cores, known ratings are reused."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING

from correlate.campaign.block import Block, Known, Unpaired, Unrated
from correlate.campaign.engines import Engine, local_engine
from correlate.display import frame, row, short_repr
from correlate.evaluation.evidence import with_flags

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from pandas import DataFrame

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord

    Keep = Callable[[list[PairRecord]], None]
    Progress = Callable[[int, int], None]


@short_repr
@dataclass(slots=True)
class CampaignScores:
    """Everything that came of scoring a campaign.

    Attributes
    ----------
    records
        One a rated pair, in the order of the file.
    unrated
        Pairs that could not be rated, with the reason.
    unpaired
        Channels in the data that are in no pair.
    new, reused
        How many pairs were rated now, and how many were known.
    evidence
        What the ratings of each load case and release stand on.
    """

    records: list[PairRecord] = field(default_factory=list)
    unrated: list[Unrated] = field(default_factory=list)
    unpaired: list[Unpaired] = field(default_factory=list)
    new: int = 0
    reused: int = 0
    evidence: list[CaseEvidence] = field(default_factory=list)

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
        return frame(row(record) for record in self.records)


def score_campaign(
    campaign: Campaign,
    *,
    releases: Sequence[str] = (),
    known: Mapping[str, PairRecord] | None = None,
    keep: Keep | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
    engine: Engine | None = None,
) -> CampaignScores:
    """Rate all pairs of some or all releases.

    Parameters
    ----------
    campaign
        The campaign.
    releases
        Names; all when empty.
    known
        Records by key that need not be rated again.
    keep
        Called with the new records of each block as soon as they are there, so that a stop loses little.
    progress
        Called with the number of finished blocks and of all blocks.
    workers
        Processes on this machine; as many as cores when left out.
    engine
        Who rates, from :mod:`correlate.campaign.engines`; those processes when left out.

    Returns
    -------
    CampaignScores

    Raises
    ------
    SettingsError
        A release is unknown.
    FormatError
        A load case names tests that are not there.
    """
    held = known or {}
    names = [campaign.release(name).name for name in releases] or [one.name for one in campaign.releases]
    for load_case in campaign.load_cases:
        campaign.test_paths(load_case)
    jobs = [(load_case.name, name) for load_case in campaign.load_cases for name in names]
    found: dict[tuple[str, str], CampaignScores] = {}
    for job, block in (engine or local_engine(workers))(campaign, jobs, frozenset(held)):
        found[job] = _scores(block, held)
        # A known rating is kept again where it belongs to another pair now.
        fresh = [record for record in found[job].records if held.get(record.key) != record]
        if keep is not None and fresh:
            keep(fresh)
        if progress is not None:
            progress(len(found), len(jobs))
    order = [(load_case.name, name) for name in names for load_case in campaign.load_cases]
    return _gathered(found[job] for job in order)


def _scores(block: Block, held: Mapping[str, PairRecord]) -> CampaignScores:
    """Put known ratings in their places, under the names and inputs of this campaign."""
    scores = CampaignScores(unrated=block.unrated, unpaired=block.unpaired)
    for pair in block.pairs:
        if isinstance(pair, Known):
            scores.reused += 1
            scores.records.append(replace(held[pair.key], **asdict(pair.names), inputs=pair.inputs))
        else:
            scores.new += 1
            scores.records.append(pair)
    scores.evidence = [with_flags(block.evidence, scores.records)]
    return scores


def _gathered(parts: Iterable[CampaignScores]) -> CampaignScores:
    scores = CampaignScores()
    for part in parts:
        scores.records += part.records
        scores.unrated += part.unrated
        scores.unpaired += [entry for entry in part.unpaired if entry not in scores.unpaired]
        scores.new += part.new
        scores.reused += part.reused
        scores.evidence += part.evidence
    return scores
