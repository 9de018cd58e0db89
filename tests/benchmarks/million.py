"""A results store with very many ratings: how fast it takes them, how large it is, how fast it answers.

Run alone: ``python -m tests.benchmarks.million [--ratings N]… [--from STORE] [--store ADDRESS]``. The records
are those of one release of a scored campaign, with other names, keys and numbers for every further release.
"""

from __future__ import annotations

import argparse
import hashlib
import sqlite3
import statistics
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from sqlalchemy import text

from correlate import load_campaign
from correlate.database import address, connect, reading
from correlate.store import RunInfo, open_store, score_into
from tests.benchmarks.campaign import Sizes, write_project

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from correlate.store import Store

SMALL: Final = (1_000, 3_000, 10_000)
"""Numbers of ratings that are measured where none are given."""

RUN: Final = RunInfo(who="benchmark", started=datetime(2031, 4, 5, tzinfo=UTC), campaign_sha256="c0ffee")


@dataclass(frozen=True, slots=True)
class Seed:
    """One scored release, of which the others are variations.

    Attributes
    ----------
    records, evidence
        Of the release.
    """

    records: Sequence[PairRecord]
    evidence: Sequence[CaseEvidence]

    @property
    def campaign(self) -> str:
        """Title of the campaign."""
        return self.records[0].campaign

    def release(self, number: int) -> list[PairRecord]:
        """Return the records of a release with this number."""
        return [_varied(record, number) for record in self.records]

    def evidence_of(self, number: int) -> list[CaseEvidence]:
        """Return the evidence of a release with this number."""
        return [replace(one, release=release_name(number)) for one in self.evidence]


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


def fill(store: Store, seed: Seed, *, first: int, ratings: int) -> float:
    """Save whole releases from one number on as scoring does; return the processor time that saving took."""
    spent = 0.0
    for number in range(first, first + -(-ratings // len(seed.records))):
        records, evidence = seed.release(number), seed.evidence_of(number)
        start = time.process_time()
        store.keep(records, run=RUN)
        store.save_evidence(evidence)
        spent += time.process_time() - start
    return spent


def questions(store: Store, campaign: str) -> dict[str, Callable[[], object]]:
    """Return what pages and commands ask a store."""
    release = store.releases(campaign)[-1].name
    few = store.ratings(campaign=campaign, release=release)[:500]
    one = few[0]
    names = {"release": release, "load_case": one.load_case, "channel": one.channel}
    return {
        "campaigns": store.campaigns,
        "releases": lambda: store.releases(campaign),
        "runs": lambda: store.runs(campaign),
        "notes": lambda: store.notes(campaign=campaign),
        "sign-offs of a release": lambda: store.sign_offs(campaign=campaign, release=release),
        "hash of the ratings of a release": lambda: store.ratings_sha256(campaign=campaign, release=release),
        "pairs of a channel": lambda: store.rated_pairs(campaign, **names),
        "evidence of a release": lambda: store.evidence(campaign, release=release),
        "500 known keys": lambda: store.known([record.key for record in few]),
        "ratings of a release": lambda: store.ratings(campaign=campaign, release=release),
    }


def _timed(call: Callable[[], object], rounds: int = 3) -> tuple[float, float]:
    """Return processor time of this process and elapsed time of a call, medians, in s."""
    own, elapsed = [], []
    for _ in range(rounds):
        began, start = time.perf_counter(), time.process_time()
        call()
        own.append(time.process_time() - start)
        elapsed.append(time.perf_counter() - began)
    return statistics.median(own), statistics.median(elapsed)


def table_sizes(place: str) -> dict[str, int]:
    """Return the bytes of every table with its indexes, largest first."""
    engine = connect(address(place, "store"), noun="store", wait_s=60)
    if engine.dialect.name == "postgresql":
        question = (
            "SELECT relname, pg_total_relation_size(oid) FROM pg_class "
            "WHERE relkind = 'r' AND relnamespace = current_schema()::regnamespace"
        )
    else:
        question = (
            "SELECT tbl_name, SUM(pgsize) FROM dbstat JOIN sqlite_schema USING (name) GROUP BY tbl_name"
        )
    with reading(engine) as connection:
        found = {name: int(size) for name, size in connection.execute(text(question))}
    engine.dispose()
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def report(sizes: Sequence[int] = SMALL, seed: Seed | None = None, place: str = "") -> Iterator[str]:
    """Fill a store step by step, and say at each size what was measured.

    Parameters
    ----------
    sizes
        Numbers of ratings, rising.
    seed
        Scored release; that of a small synthetic campaign when left out.
    place
        Address of an empty store; a temporary file when left out.
    """
    seed = seed or scored_seed()
    with tempfile.TemporaryDirectory() as folder:
        place = place or str(Path(folder) / "ratings.sqlite")
        spent, filled, releases = 0.0, 0, 0
        times = []
        with open_store(place) as store:
            for size in sizes:
                step = fill(store, seed, first=releases, ratings=size - filled)
                releases += -(-(size - filled) // len(seed.records))
                count = releases * len(seed.records)
                spent += step
                times.append((count, spent))
                yield f"{count:,} ratings: {(count - filled) / step:,.0f} ratings/s of processor time"
                filled = count
                for name, call in questions(store, seed.campaign).items():
                    own, elapsed = _timed(call)
                    yield f"  {name}: {own * 1e3:.1f} ms of processor time, {elapsed * 1e3:.1f} ms elapsed"
        if len(times) > 1:
            counts, seconds = np.log(np.array(times)).T
            power = np.polyfit(counts, seconds, 1)[0]
            yield f"time grows with the number of ratings to the power {power:.2f}"
        tables = table_sizes(place)
        yield f"{sum(tables.values()) / filled:.0f} bytes per rating"
        yield from (f"  {name}: {size / filled:.1f}" for name, size in islice(tables.items(), 8))
        yield from _vacuum(place)


def _vacuum(place: str) -> Iterator[str]:
    if "://" in place:
        return
    with closing(sqlite3.connect(place)) as connection:
        start = time.process_time()
        connection.execute("VACUUM")
        spent = time.process_time() - start
    yield f"VACUUM: {spent:.1f} s of processor time, {Path(place).stat().st_size / 1e6:.0f} MB after it"


def main() -> None:
    """Measure what the command line says."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ratings", type=int, action="append", help="number of ratings, rising; repeatable")
    parser.add_argument("--from", dest="source", help="store with a scored campaign")
    parser.add_argument("--store", default="", help="address of an empty store")
    given = parser.parse_args()
    seed = None
    if given.source:
        with open_store(given.source) as store:
            seed = seed_of(store)
    for line in report(given.ratings or SMALL, seed, given.store):
        print(line, flush=True)


if __name__ == "__main__":
    main()
