"""A writer that is killed at any moment leaves a store that opens and holds whole ratings only."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

from correlate.database import writing
from correlate.store import aggregates, open_store
from tests.store.writer import BATCH, RUN, numbered_record

if TYPE_CHECKING:
    from pathlib import Path

    from tests.store.writer import Writer

KILLED = -9
RATINGS_OF_NO_PAIR = "SELECT key FROM ratings WHERE key NOT IN (SELECT rating_key FROM entries)"


def kill_and_look(writer: Writer, address: str, before: int, moment: random.Random) -> int:
    """Kill a writer that goes on after `before` batches, check the store, and return how many it has now."""
    kill = {"after_batches": moment.randrange(4), "and_s": moment.uniform(0.0, 0.03)}
    writer.order(address=address, first=before * BATCH, kill=kill)
    answer = writer.answer()
    assert answer["exit"] == KILLED
    assert answer["kept"] >= kill["after_batches"]
    with open_store(address) as store:
        found = store.ratings()
        runs = store.runs("KELP-M")
        with writing(store._engine) as connection:
            assert aggregates.recomputed(connection)
    batches, rest = divmod(len(found), BATCH)
    assert rest == 0
    assert batches >= before + answer["kept"]
    assert found == [numbered_record(number) for number in range(len(found))]
    assert runs == ([RUN] if found else [])
    return batches


def test_sqlite_fifty_times(writers: tuple[Writer, Writer], tmp_path: Path) -> None:
    """Fifty writers are killed in ten files, some while they make the file, most while they write.

    The file opens, passes SQLite's own check, holds every batch that was reported kept, and of the batch in
    hand all or nothing. Batches are read back equal to what was written, and the next writer goes on.
    """
    moment = random.Random(18571)  # noqa: S311 - moments, not secrets
    for file in (tmp_path / f"{number}.sqlite" for number in range(10)):
        batches = 0
        for _ in range(5):
            batches = kill_and_look(writers[0], str(file), batches, moment)
            with closing(sqlite3.connect(file)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
                assert connection.execute(RATINGS_OF_NO_PAIR).fetchall() == []


def test_postgresql_ten_times(writers: tuple[Writer, Writer], postgres_schema: str) -> None:
    """Ten writers to a PostgreSQL server are killed; the server holds whole batches only."""
    moment = random.Random(13499)  # noqa: S311
    batches = 0
    for _ in range(10):
        batches = kill_and_look(writers[0], postgres_schema, batches, moment)
