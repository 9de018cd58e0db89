"""Records of any number of releases, derived from those of one scored release.

Every further release has other names, keys, files and numbers, so that releases share only what those of a
campaign share: the tests, but not the results of the model.
"""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate import load_campaign
from correlate.evaluation.evidence import pairs_sha256
from correlate.store import RunInfo, open_store, score_into
from tests.benchmarks.campaign import Sizes, write_project

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from correlate.store import Store

RUN: Final = RunInfo(who="benchmark", started=datetime(2031, 4, 5, tzinfo=UTC), campaign_sha256="c0ffee")


@dataclass(frozen=True, slots=True)
class Seed:
    """One scored release, of which the others are variations.

    Attributes
    ----------
    records, evidence
        Records and evidence of the release.
    """

    records: Sequence[PairRecord]
    evidence: Sequence[CaseEvidence]

    @property
    def campaign(self) -> str:
        """Title of the campaign."""
        return self.records[0].campaign

    def blocks(self, number: int) -> Iterator[tuple[list[PairRecord], CaseEvidence]]:
        """Yield the records and the evidence of each load case of a release with this number."""
        for one in self.evidence:
            records = [
                _varied(record, number) for record in self.records if record.load_case == one.load_case
            ]
            rated = pairs_sha256((record.channel, record.repeat, record.key) for record in records)
            yield records, replace(one, release=release_name(number), pairs_sha256=rated)


def release_name(number: int) -> str:
    """Return the name of a release."""
    return f"M{number:04}"


def seed_of(store: Store) -> Seed:
    """Take the first release of the first campaign of a store."""
    campaign = store.campaigns()[0]
    release = store.releases(campaign)[0].name
    return Seed(store.ratings(campaign=campaign, release=release), store.evidence(campaign, release=release))


def scored_seed() -> Seed:
    """Score a small synthetic campaign."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_project(folder, Sizes(load_cases=5, repeats=3, channels=20, releases=1, samples=200))
        with open_store(folder / "ratings.sqlite") as store:
            score_into(store, load_campaign(folder), run=RUN)
            return seed_of(store)


def _varied(record: PairRecord, number: int) -> PairRecord:
    """Return the record with the names, files and hashes of another release, and with other numbers."""
    name = release_name(number)
    scale = 1 + int(_hash(f"{record.key} {number}")[:8], 16) * 1e-12
    files = {
        words["file"]: words["file"].replace(record.release, name)
        for words in (record.inputs["candidate"], *record.inputs["candidate"]["history"])
        if "file" in words
    }
    candidate = _with_files(record.inputs["candidate"], files)
    candidate["sha256"] = _hash(f"{candidate['sha256']} {number}")
    return replace(
        record,
        key=_hash(f"key {record.key} {number}"),
        release=name,
        overall=min(1.0, record.overall * scale),
        inputs={"reference": record.inputs["reference"], "candidate": candidate},
        ingredients=_scaled(record.ingredients, scale),
    )


def _with_files(value: Any, files: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {name: _with_files(inner, files) for name, inner in value.items()}
    if isinstance(value, list):
        return [_with_files(inner, files) for inner in value]
    return files.get(value, value) if isinstance(value, str) else value


def _scaled(value: Any, scale: float) -> Any:
    """Change the last digits of every number that was computed."""
    if isinstance(value, dict):
        return {name: _scaled(inner, scale) for name, inner in value.items()}
    if isinstance(value, list):
        return [_scaled(inner, scale) for inner in value]
    return value * scale if isinstance(value, float) else value


def _hash(words: str) -> str:
    return hashlib.sha256(words.encode()).hexdigest()
