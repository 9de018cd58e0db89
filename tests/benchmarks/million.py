"""A results store with very many ratings: how fast it takes them, how large it is, how fast it answers.

``python -m tests.benchmarks.million [--ratings N] [--from STORE] [--on DATABASE] [--only PART]`` fills a
store of each database, exports it, and upgrades one of format 5, killing the upgrade several times.
The records are those of one release of a scored campaign, with other names, keys and numbers for every
further release. Times are processor times unless marked as elapsed.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from sqlalchemy import text

from correlate.database import address, connect, reading
from correlate.statistics import student_quantile
from correlate.store import open_store
from correlate.store.ratings import BlockRows
from tests.benchmarks.million_records import RUN, Seed, scored_seed, seed_of
from tests.benchmarks.million_upgrade import PEAK, fill_old, upgrade_report
from tests.store.postgres_server import empty_schema, postgres_server

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from correlate.store import Store

SMALL: Final = 9_000
"""Number of ratings in the group of the benchmarks."""

MILLION: Final = 1_003_200
"""Default number of ratings: 209 releases of 4,800 pairs."""

KILLS: Final = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Fractions of the duration of an upgrade after which it is killed."""

DATABASES: Final = ("sqlite", "postgresql")

_EXPORT: Final = f"""
import sys, time
{PEAK}
from correlate.report.export import RatingRows, write_rows
from correlate.store import open_store
from correlate.store.records import StoredRecords

place, campaign, file = sys.argv[1:]
with open_store(place) as store:
    records = StoredRecords(store.address, campaign, store.evidence(campaign))
    written = write_rows(Path(file), RatingRows(records, {{}}))
print(written, time.process_time(), peak_mb())
"""
"""Writes the ratings of a campaign as ``correlate export --ratings`` does, without checking its files."""


@dataclass(frozen=True, slots=True)
class Filled:
    """Times of saving, one value per release.

    Attributes
    ----------
    counts
        Ratings in the store after the release.
    prepared_s, inserted_s
        Processor time of preparing its rows, which workers do, and of inserting them, which one program does
        for a file.
    """

    counts: Sequence[int]
    prepared_s: Sequence[float]
    inserted_s: Sequence[float]

    def words(self) -> Iterator[str]:
        """Say how many ratings per second were saved at the beginning and at the end."""
        tenth = max(1, len(self.counts) // 10)
        first, last = slice(0, tenth), slice(-tenth, None)
        of_release = self.counts[0]
        for name, spent in (
            ("prepared", self.prepared_s),
            ("inserted", self.inserted_s),
            ("both", np.add(self.prepared_s, self.inserted_s)),
        ):
            begin, end = (of_release * tenth / sum(spent[part]) for part in (first, last))
            yield f"{name}: {begin:,.0f} ratings/s in the first tenth, {end:,.0f} in the last"
        if len(self.counts) > 3:
            power, half = _exponent(self.counts, self.inserted_s)
            yield f"growth exponent of insertion time: {power:.2f} ± {half:.2f} (95 %)"


def _exponent(counts: Sequence[int], spent: Sequence[float]) -> tuple[float, float]:
    """Return the exponent of the total time, and the half-width of its interval, from the times of releases.

    The exponent of the time of a single release is smaller by one. Releases are assumed to be independent.
    """
    middle = np.log(np.array(counts) - counts[0] / 2)
    middle -= middle.mean()
    times = np.log(spent)
    slope = middle @ times / (middle @ middle)
    rest = times - times.mean() - slope * middle
    error = np.sqrt(rest @ rest / (len(counts) - 2) / (middle @ middle))
    return 1 + float(slope), float(student_quantile(0.975, len(counts) - 2) * error)


def fill(store: Store, seed: Seed, ratings: int) -> Filled:
    """Save whole releases as scoring does: a load case of a release in one transaction, with its evidence."""
    counts, prepared, inserted = [], [], []
    count = 0
    for number in range(-(-ratings // len(seed.records))):
        prepared.append(0.0)
        inserted.append(0.0)
        for records, evidence in seed.blocks(number):
            start = time.process_time()
            rows = BlockRows.of(records, evidence)
            middle = time.process_time()
            store.keep_rows([rows], run=RUN)
            prepared[-1] += middle - start
            inserted[-1] += time.process_time() - middle
            count += len(records)
        counts.append(count)
    return Filled(counts, prepared, inserted)


def questions(store: Store, campaign: str) -> dict[str, Callable[[], object]]:
    """Return what pages and commands ask a store."""
    release = store.releases(campaign)[-1].name
    few = store.ratings(campaign=campaign, release=release)[:500]
    one = few[0]
    names = {"release": release, "load_case": one.load_case, "channel": one.channel}
    place = (one.load_case, one.channel)
    return {
        "campaigns": store.campaigns,
        "releases": lambda: store.releases(campaign),
        "runs": lambda: store.runs(campaign),
        "last run": lambda: store.last_run(campaign),
        "blocks": lambda: store.blocks(campaign),
        "repeats that any release has": lambda: store.rated_repeats(campaign),
        "notes": lambda: store.notes(campaign=campaign),
        "sign-offs of a release": lambda: store.sign_offs(campaign=campaign, release=release),
        "hash of the ratings of a release": lambda: store.ratings_sha256(campaign=campaign, release=release),
        "numbers of a release": lambda: store.number_pairs(campaign, release=release),
        "numbers of a channel in a release": lambda: store.number_pairs_at(
            campaign, releases=[release], places=[place]
        ),
        "pairs of a channel": lambda: store.rated_pairs(campaign, **names),
        "keys of a release": lambda: store.rated_keys(campaign, release=release),
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


def store_report(place: str, seed: Seed, ratings: int) -> Iterator[str]:
    """Fill an empty store, and report the measurements: saving, queries, size, vacuum."""
    with open_store(place) as store:
        filled = fill(store, seed, ratings)
        count = filled.counts[-1]
        yield f"{count:,} ratings"
        yield from filled.words()
        for name, call in questions(store, seed.campaign).items():
            own, elapsed = _timed(call)
            yield f"  {name}: {own * 1e3:.1f} ms, {elapsed * 1e3:.1f} ms elapsed"
    tables = table_sizes(place)
    yield f"{sum(tables.values()) / count:.0f} bytes per rating"
    yield from (f"  {name}: {size / count:.1f}" for name, size in islice(tables.items(), 8))
    yield _vacuum(place)


def _vacuum(place: str) -> str:
    if "://" in place:
        engine = connect(address(place, "store"), noun="store", wait_s=60)
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            began = time.perf_counter()
            connection.execute(text("VACUUM FULL"))
            spent = time.perf_counter() - began
        engine.dispose()
        return f"VACUUM FULL: {spent:.1f} s elapsed, {sum(table_sizes(place).values()) / 1e6:.0f} MB after it"
    with closing(sqlite3.connect(place)) as connection:
        start = time.process_time()
        connection.execute("VACUUM")
        spent = time.process_time() - start
    return f"VACUUM: {spent:.1f} s, {Path(place).stat().st_size / 1e6:.0f} MB after it"


def export_report(place: str, campaign: str) -> Iterator[str]:
    """Export a store in a process of its own, as CSV and as Parquet."""
    with tempfile.TemporaryDirectory() as folder:
        for ending in ("csv", "parquet"):
            file = Path(folder) / f"ratings.{ending}"
            done = subprocess.run(
                [sys.executable, "-c", _EXPORT, place, campaign, str(file)],
                stdout=subprocess.PIPE,
                text=True,
                check=True,
            )
            written, spent, peak = map(float, done.stdout.split())
            size = f"{file.stat().st_size / 1e6:.0f} MB"
            yield f"{size} {ending} of {written:,.0f} ratings: {spent:.1f} s, {peak:.0f} MB memory"


@contextmanager
def empty_place(database: str) -> Iterator[str]:
    """Yield the address of a store that does not exist yet; it is removed afterwards."""
    if database == "sqlite":
        with tempfile.TemporaryDirectory() as folder:
            yield str(Path(folder) / "ratings.sqlite")
    else:
        with postgres_server() as server, empty_schema(server) as place:
            yield place


def report() -> Iterator[str]:
    """Fill a small store of SQLite; what the group of the benchmarks prints."""
    with empty_place("sqlite") as place:
        yield from store_report(place, scored_seed(), SMALL)


def main() -> None:
    """Measure what the command line says."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ratings", type=int, default=MILLION, help="number of ratings")
    parser.add_argument("--from", dest="source", help="store with a scored campaign")
    parser.add_argument("--on", action="append", choices=DATABASES, help="only this database; repeatable")
    parser.add_argument("--only", choices=("store", "upgrade"), help="only this part")
    given = parser.parse_args()
    seed = scored_seed()
    if given.source:
        with open_store(given.source) as store:
            seed = seed_of(store)
    for database in given.on or DATABASES:
        for line in _parts(database, seed, given.ratings, given.only):
            print(line, flush=True)


def _parts(database: str, seed: Seed, ratings: int, only: str | None) -> Iterator[str]:
    yield f"{database}:"
    if only != "upgrade":
        with empty_place(database) as place:
            yield from store_report(place, seed, ratings)
            yield from export_report(place, seed.campaign)
    if only != "store":
        with empty_place(database) as place:
            fill_old(place, seed, ratings)
            yield from upgrade_report(place, KILLS)


if __name__ == "__main__":
    main()
