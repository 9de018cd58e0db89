"""Known blocks: their evidence is of the present files and settings, and their ratings are saved.

A block is one load case of one release. The result of a known block is in its evidence: no recording is read.
"""

from __future__ import annotations

from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING

from correlate.campaign.block import Block
from correlate.campaign.delivery import deliver
from correlate.errors import CorrelateError
from correlate.evaluation.evidence import InputStates, pairs_sha256
from correlate.file_hashes import file_hashes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from correlate.campaign.delivery import Delivery, FirstHalf, Job
    from correlate.campaign.scoring import Engine
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.overview import RatedKey


def known_blocks(
    campaign: Campaign, evidence: Iterable[CaseEvidence], rated: Callable[[str], Iterable[RatedKey]]
) -> dict[Job, Block]:
    """Return the blocks of a campaign that need not be read again; none while files are verified.

    Parameters
    ----------
    campaign
        The campaign.
    evidence
        Evidence that was saved with the ratings of the requested releases, release by release.
    rated
        Returns the current ratings of a release; only those of one release are in memory at a time.
    """
    hashes, states = file_hashes(campaign.folder), InputStates(campaign)
    cases = {case.name for case in campaign.load_cases}
    planned = [one for one in evidence if one.pairs_sha256 and one.load_case in cases]
    found: dict[Job, Block] = {}
    for release, own in groupby(() if hashes.is_verifying else planned, key=attrgetter("release")):
        keys: dict[str, dict[tuple[str, str], str]] = {}
        for one in rated(release):
            keys.setdefault(one.load_case, {})[one.channel, one.repeat] = one.key
        found |= {
            (one.load_case, release): _block(campaign, one)
            for one in own
            if _is_rated(one, keys.get(one.load_case, {})) and _is_current(campaign, one, states)
        }
    # Before workers start, so that they use the hashes that were just determined.
    hashes.save()
    return found


def skipping_engine(engine: Engine, known: Mapping[Job, Block]) -> Engine:
    """Return an engine that returns known blocks immediately, and passes the rest to another engine."""

    def skipping(
        campaign: Campaign, jobs: Sequence[Job], keys: frozenset[str], first: FirstHalf
    ) -> Iterator[Delivery]:
        at_once = [job for job in jobs if job in known]
        if at_once:
            yield deliver(at_once, [known[job] for job in at_once], first)
        left = [job for job in jobs if job not in known]
        if left:
            yield from engine(campaign, left, keys, first)

    return skipping


def _block(campaign: Campaign, found: CaseEvidence) -> Block:
    return Block(
        pairs=[],
        unrated=[one.at(campaign.folder) for one in found.unrated],
        unpaired=[*found.unpaired],
        evidence=found,
        skipped=sum(len(channel.pairs) for channel in found.channels),
    )


def _is_rated(found: CaseEvidence, keys: Mapping[tuple[str, str], str]) -> bool:
    """Tell whether every pair of the evidence still has the rating with which the evidence was saved."""
    names = [(channel.channel, repeat) for channel in found.channels for repeat in channel.pairs]
    if not all(name in keys for name in names):
        return False
    return found.pairs_sha256 == pairs_sha256((*name, keys[name]) for name in names)


def _is_current(campaign: Campaign, found: CaseEvidence, states: InputStates) -> bool:
    try:
        case, release = campaign.load_case(found.load_case), campaign.release(found.release)
        return states.of(release, case) == found.state
    except CorrelateError:
        return False
