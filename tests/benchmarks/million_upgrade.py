"""The upgrade of a large store of format 5, which is killed at several moments of its duration."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import MetaData, insert, inspect, text

from correlate.database import address, connect, reading, writing
from correlate.store.packing import hash_text
from correlate.store.store import MIGRATIONS
from correlate.store.tables import SCORES
from tests.benchmarks.million_records import RUN

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sqlalchemy import Connection, Engine, Table

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from tests.benchmarks.million_records import Seed

OLD: Final = "5"

Row = dict[str, Any]

PEAK: Final = """
from pathlib import Path

def peak_mb():
    # Not `ru_maxrss`, which starts at the value of the parent process.
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024
"""
"""Source of a function that returns the peak memory of its process (Linux)."""

_UPGRADE: Final = f"""
import sys, time
{PEAK}
from correlate.database import address, connect, writing
from correlate.store.store import MIGRATIONS
from correlate.store.tables import SCORES

with writing(connect(address(sys.argv[1], "store"), noun="store", wait_s=600)) as connection:
    MIGRATIONS.bring_up_to_date(connection)
    if sys.argv[2] == "undo":
        connection.get_transaction().rollback()
print(time.process_time(), peak_mb())
"""
"""Upgrades a store as opening it does; with ``undo`` it is rolled back, and the store keeps its format."""


@dataclass(frozen=True, slots=True)
class Content:
    """What no upgrade may change.

    Attributes
    ----------
    version
        Format of the store.
    ratings, entries
        Number of rows.
    digest
        Sum of hashes of every rating's key and scores, and of every entry's number, names and rating.
    """

    version: str
    ratings: int
    entries: int
    digest: int

    def is_kept_in(self, other: Content) -> bool:
        """Tell whether the other has the same rows, in any format."""
        return (self.ratings, self.entries, self.digest) == (other.ratings, other.entries, other.digest)


def upgrade_report(place: str, kills: Sequence[float]) -> Iterator[str]:
    """Measure the upgrade of a store of format 5, kill it after fractions of that time, and let it finish.

    Raises
    ------
    RuntimeError
        After a kill, the store had neither the old nor the new format, or had lost rows.
    """
    before = content(place)
    yield f"{before.ratings:,} ratings in format {before.version}"
    rehearsal = _Upgrade(place, "undo")
    yield f"upgrade: {rehearsal.finished()}"
    if content(place) != before:
        raise RuntimeError("an upgrade that was rolled back changed the store")
    for part in kills:
        last = _Upgrade(place, "keep").killed_after(part * rehearsal.elapsed_s)
        found = content(place)
        if not before.is_kept_in(found):
            raise RuntimeError(f"after a kill at {part:.0%}: {found} instead of {before}")
        yield f"killed at {part:.0%}: format {found.version}, every row is there; at that moment: {last}"
    yield f"run again to its end: {_Upgrade(place, 'keep').finished()}"
    after = content(place)
    if not before.is_kept_in(after) or after.version != MIGRATIONS.newest:
        raise RuntimeError(f"after the upgrade: {after} instead of {before}")
    yield f"format {after.version}, every row is there"


class _Upgrade:
    """An upgrade in a process of its own."""

    def __init__(self, place: str, end: str) -> None:
        self._place = place
        self._began = time.perf_counter()
        self.elapsed_s = 0.0
        self._said = tempfile.TemporaryFile(mode="w+")  # noqa: SIM115 - closed with the process
        self._process = subprocess.Popen(
            [sys.executable, "-c", _UPGRADE, place, end],
            stdout=subprocess.PIPE,
            stderr=self._said,
            text=True,
        )

    def finished(self) -> str:
        """Wait for the end; return what was measured."""
        largest = 0
        while self._process.poll() is None:
            largest = max(largest, self._log_size())
            time.sleep(0.1)
        self.elapsed_s = time.perf_counter() - self._began
        words, _ = self._process.communicate()
        last = self._last_words()
        if self._process.returncode:
            raise RuntimeError(f"the upgrade failed: {last}")
        spent, peak = map(float, words.split())
        log = f", {largest / 1e6:.0f} MB in the file -wal" if largest else ""
        return f"{spent:.1f} s, {self.elapsed_s:.1f} s elapsed, {peak:.0f} MB memory{log}"

    def killed_after(self, seconds: float) -> str:
        """Kill it, and return the progress that it last reported."""
        time.sleep(max(0.0, self._began + seconds - time.perf_counter()))
        self._process.kill()
        self._process.communicate()
        return self._last_words()

    def _log_size(self) -> int:
        log = Path(f"{self._place}-wal")
        try:
            return log.stat().st_size
        except OSError:
            return 0

    def _last_words(self) -> str:
        self._said.seek(0)
        lines = self._said.read().splitlines()
        self._said.close()
        return lines[-1].partition(", ")[2].partition(";")[0] if lines else "nothing reported yet"


def _engine(place: str) -> Engine:
    # The server needs some time to roll back the transaction of a killed program.
    return connect(address(place, "store"), noun="store", wait_s=600)


def content(place: str) -> Content:
    """Read the contents of a store of the old or the newest format, without upgrading it."""
    engine = _engine(place)
    with reading(engine) as connection:
        version = connection.execute(text("SELECT version_num FROM store_format")).scalar_one()
        is_half_new = version == OLD and "present" in inspect(connection).get_table_names()
        if version not in {OLD, MIGRATIONS.newest} or is_half_new:
            raise RuntimeError(f"the store has format {version} and tables of another one")
        ratings = _summed(connection, f"SELECT key, {', '.join(SCORES)} FROM ratings")  # noqa: S608
        entries = _summed(
            connection, "SELECT rating_key, id, campaign, release, load_case, channel, repeat FROM entries"
        )
    engine.dispose()
    return Content(version, ratings[0], entries[0], ratings[1] ^ entries[1])


def _summed(connection: Connection, question: str) -> tuple[int, int]:
    """Return the number of rows, and a sum that does not depend on their order."""
    count = total = 0
    for key, *rest in connection.execute(text(question), execution_options={"yield_per": 10_000}):
        name = key if isinstance(key, str) else hash_text(bytes(key))
        total += int.from_bytes(hashlib.sha256(repr([name, *rest]).encode()).digest())
        count += 1
    return count, total


def fill_old(place: str, seed: Seed, ratings: int) -> None:
    """Create a store of format 5 with this many ratings."""
    engine = _engine(place)
    with writing(engine) as connection:
        MIGRATIONS.migrate(connection, present=None, target=OLD)
        tables = MetaData()
        tables.reflect(connection)
        connection.execute(insert(tables.tables["runs"]), {"id": 1, **_run()})
    for number in range(-(-ratings // len(seed.records))):
        rows = _old_rows(list(seed.blocks(number)))
        with writing(engine) as connection:
            for name, some in rows.items():
                _insert_new(connection, tables.tables[name], some)
    engine.dispose()


def _run() -> Row:
    return {name: getattr(RUN, name) for name in RUN.__dataclass_fields__}


def _insert_new(connection: Connection, table: Table, rows: Sequence[Row]) -> None:
    """Insert rows; contents that several releases share are inserted once."""
    if "hash" in table.c:
        known = {row.hash for row in connection.execute(table.select().with_only_columns(table.c.hash))}
        rows = [row for row in rows if row["hash"] not in known]
    if rows:
        connection.execute(insert(table), rows)


def _old_rows(blocks: Sequence[tuple[Sequence[PairRecord], CaseEvidence]]) -> dict[str, list[Row]]:
    """Return the rows of a release by table, in the form of format 5: every content and hash as text."""
    contents: dict[str, dict[str, Row]] = {"settings": {}, "inputs": {}}

    def hashed(table: str, content: Any) -> str:
        words = _text(content)
        name = hashlib.sha256(words.encode()).hexdigest()
        contents[table][name] = {"hash": name, "content": words}
        return name

    ratings, entries = [], []
    for one in chain.from_iterable(records for records, _ in blocks):
        scores = {name: getattr(one, name) for name in (*SCORES, "key", "grade", "shift_s", "samples")}
        settings = hashed("settings", one.settings)
        more = {"settings_hash": settings, "ingredients": _text(one.ingredients), "version": one.version}
        ratings.append(scores | more)
        names = ("campaign", "release", "load_case", "channel", "repeat")
        sides = {f"{side}_hash": hashed("inputs", one.inputs[side]) for side in ("reference", "candidate")}
        entry = {"run_id": 1, "rating_key": one.key, **sides}
        entries.append(entry | {name: getattr(one, name) for name in names})
    evidence = [
        {
            "campaign": one.campaign,
            "release": one.release,
            "load_case": one.load_case,
            "state": one.state,
            "content": _text(one.as_plain()),
        }
        for _, one in blocks
    ]
    listed = {name: [*rows.values()] for name, rows in contents.items()}
    return {**listed, "ratings": ratings, "entries": entries, "evidence": evidence}


def _text(content: Any) -> str:
    return json.dumps(content, sort_keys=True, separators=(",", ":"))
