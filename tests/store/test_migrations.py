"""A store of any age comes up to date with its data; one from the future is left alone."""

from __future__ import annotations

import os
import signal
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import event, inspect, text

import correlate.store.migrations
from correlate import database as way
from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store import Note, RunInfo, Store, aggregates, open_store
from correlate.store.packing import RATING_WORDS, unpacked
from correlate.store.store import MIGRATIONS
from correlate.store.tables import METADATA, NEWEST_FORMAT
from tests.store.test_ceilings import ONE as CEILING
from tests.store.writer import RUN, numbered_record

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import Connection

HERE = Path(__file__).parent


@contextmanager
def database(address: str) -> Iterator[Connection]:
    """Open a transaction on a database without bringing it up to date."""
    engine = way.connect(way.address(address, "store"), noun="store", wait_s=60)
    with way.writing(engine) as connection:
        yield connection
    engine.dispose()


def old_store(address: str) -> None:
    """Make a store of format 1 and fill it with rows that were written by hand."""
    with database(address) as connection:
        MIGRATIONS.migrate(connection, present=None, target="1")
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET LOCAL TIME ZONE 'UTC'"))
        for statement in (HERE / "format_1.sql").read_text(encoding="utf-8").split(";\n"):
            connection.exec_driver_sql(statement)


OLD_RECORD = PairRecord(
    key="k1",
    campaign="KELP-M",
    release="A1",
    load_case="head-drop",
    channel="11HEAD0000KMACZA",
    repeat="KELPM_HD01",
    overall=0.8125,
    grade="good",
    corridor=0.75,
    phase=1.0,
    magnitude=0.875,
    slope=0.6875,
    shift_s=-0.0005,
    samples=200,
    inputs={"reference": {"file": "test.001", "unit": "g"}, "candidate": {"file": "model.csv", "unit": "g"}},
    settings={"conditioning": {"cfc": 1000}, "rating": {"warping_band": 0.1}},
    ingredients={"magnitude": {"error": 0.0625}},
    version="0.0.9",
)
OLD_RUN = RunInfo(
    who="analyst",
    started=datetime(2030, 1, 2, 3, 4, 5, 678901, tzinfo=UTC),
    version="0.0.9",
    campaign_sha256="abc",
)


def check_upgraded(store: Store) -> None:
    """Check that the old data are there, and that what is new can be used."""
    assert store.ratings() == [OLD_RECORD]
    assert store.runs("KELP-M") == [OLD_RUN]
    assert store.notes() == [
        Note(
            campaign="KELP-M",
            release="A1",
            load_case="",
            channel="",
            text="first look; fine",
            who="lab",
            entered=datetime(2030, 1, 3, 8, 0, tzinfo=UTC),
        )
    ]
    store.keep([numbered_record(0)], run=RUN)
    store.add_note("late", campaign="KELP-M", load_case="head-drop", who="lab")
    store.sign_off(campaign="KELP-M", release="A1", role="lab", date=date(2031, 1, 1), who="lab")
    store.keep_ceilings([CEILING])
    assert store.ceilings("KELP-M") == [CEILING]
    assert len(store.ratings()) == len(store.notes()) == 2


def test_an_old_store_is_upgraded_with_its_data(address: str) -> None:
    """A store of format 1 opens with its ratings, run and note; sign-offs and finer notes work in it."""
    old_store(address)
    with open_store(address) as store:
        check_upgraded(store)
    with open_store(address) as store:
        assert len(store.sign_offs()) == 1


def test_tables_are_those_of_the_migrations(address: str) -> None:
    """The tables in the code and those that all migrations make are the same, for new and for old stores."""
    old_store(address)
    with open_store(address):
        pass
    with database(address) as connection:
        context = MigrationContext.configure(connection, opts={"version_table": MIGRATIONS.table})
        assert compare_metadata(context, METADATA) == []
        assert context.get_current_revision() == NEWEST_FORMAT


def test_newest_format_is_the_last_migration() -> None:
    """The number in the code is that of the newest file, and the files make one line."""
    scripts = ScriptDirectory(str(Path(correlate.store.migrations.__file__).parent))
    assert scripts.get_heads() == [NEWEST_FORMAT]
    assert [script.revision for script in scripts.walk_revisions()] == ["7", "6", "5", "4", "3", "2", "1"]


def test_a_sign_off_of_format_4_keeps_its_words(address: str) -> None:
    """It has no scope, and nothing is claimed of the inputs at that time."""
    with database(address) as connection:
        MIGRATIONS.migrate(connection, present=None, target="4")
        connection.execute(
            text(
                "INSERT INTO sign_offs (campaign, release, role, date, text, who, entered, ratings_sha256) "
                "VALUES ('KELP-M', 'A1', 'lab', '2031-05-06', 'fine', 'desk', '2031-05-06 08:00:00', 'abc')"
            )
        )
    with open_store(address) as store:
        (kept,) = store.sign_offs()
    assert (kept.role, kept.date, kept.text, kept.ratings_sha256) == ("lab", date(2031, 5, 6), "fine", "abc")
    assert (kept.scope, kept.inputs_sha256) == ("", "")


def store_of_format_5(address: str) -> None:
    """Make a store of format 5: two runs, a rating of before, a pair that does not count, and evidence."""
    with database(address) as connection:
        MIGRATIONS.migrate(connection, present=None, target="5")
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET LOCAL TIME ZONE 'UTC'"))
        for statement in (HERE / "format_5.sql").read_text(encoding="utf-8").split(";\n"):
            connection.exec_driver_sql(statement)


def test_format_5_gets_what_it_would_have_had(address: str) -> None:
    """Present ratings and aggregates of a migrated store are those that saving would have made."""
    store_of_format_5(address)
    with open_store(address) as store:
        with way.writing(store._engine) as connection:
            assert aggregates.recomputed(connection)
        pairs, _ = store.number_pairs("KELP-M")
        assert sorted((one.channel, one.repeat, one.overall, dict(one.ingredients)) for one in pairs) == [
            ("ax", "R1", 0.75, {"corridor": {"reference_peak": 2.5}, "also": {"m": {"value": 0.1}}}),
            ("ay", "R1", 0.5, {"corridor": {"reference_peak": None}, "also": {}}),
        ]
        first, second = sorted(store.blocks("KELP-M"), key=lambda one: one.load_case)
        assert (first.load_case, first.pairs, first.counted) == ("drop", 3, 2)
        assert first.summary is not None
        assert (first.summary.state, first.summary.channels) == ("old", ("ax", "ay"))
        assert list(first.summary.lacking) == ["ax"]
        assert first.summary.earlier["ax"] == {"R1", "R2"}
        assert (second.load_case, second.pairs) == ("sled", 0)
        (release,) = store.releases("KELP-M")
        assert (release.pairs, release.first_rated.day, release.last_rated.day) == (3, 2, 3)
        assert store.last_run("KELP-M") == store.runs("KELP-M")[-1]
        assert [one.overall for one in store.ratings()] == [0.5, 0.25, 0.75]


@pytest.mark.parametrize(
    "damaged",
    ["{", "[]", "7", '{"also": [1]}', '{"also": {"m": {}}}', "[" * 200_000],
    ids=["cut off", "list", "number", "other content", "missing value", "deep"],
)
def test_damaged_ingredients_are_named_in_one_sentence(address: str, damaged: str) -> None:
    """A store may come from a stranger: it stays as it is, and the sentence says what to do."""
    store_of_format_5(address)
    with database(address) as connection:
        connection.execute(text("UPDATE ratings SET ingredients = :damaged"), {"damaged": damaged})
    with pytest.raises(StoreError, match=r"older format 5 and cannot be upgraded, .*; take it from a backup"):
        open_store(address)
    with database(address) as connection:
        assert connection.execute(text("SELECT version_num FROM store_format")).scalar_one() == "5"


def upgrade_until(address: str, statements: int) -> bool:
    """Upgrade a store in another process, killed after some statements; tell whether it came to the end."""
    child = os.fork()
    if child == 0:
        left = iter(range(statements))

        def count(*_: object) -> None:
            if next(left, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)

        with database(address) as connection:
            event.listen(connection, "before_cursor_execute", count)
            MIGRATIONS.bring_up_to_date(connection)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) == 0


def test_an_upgrade_that_is_killed_at_any_statement_leaves_the_old_store(tmp_path: Path) -> None:
    """The store has its old format and nothing of the new one, until an upgrade comes to its end."""
    address = str(tmp_path / "ratings.sqlite")
    store_of_format_5(address)
    statements = 0
    while not upgrade_until(address, statements):
        with database(address) as connection:
            assert MIGRATIONS.present(connection) == "5"
            assert "present" not in inspect(connection).get_table_names()
        statements += 1
    assert statements > 20
    with open_store(address) as store, way.writing(store._engine) as connection:
        assert aggregates.recomputed(connection)


def test_a_long_upgrade_tells_how_far_it_is(
    address: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Table, rows and store are named, and what happens if it is stopped; a short upgrade says nothing."""
    old_store(address)
    monkeypatch.setattr(way, "LONG_TABLE", 1)
    with open_store(address):
        pass
    assert (
        "upgrading the store, table inputs, 0 of 2 rows; if it is stopped, nothing is changed" in caplog.text
    )
    caplog.clear()
    with open_store(address):
        pass
    assert caplog.text == ""


def test_format_7_takes_fewer_bytes_and_new_numbers_follow_old_ones(address: str) -> None:
    """Hashes become 33 bytes, JSON is compressed, and the next entry has the next number."""
    old_store(address)
    with open_store(address) as store:
        store.keep([numbered_record(0)], run=RUN)
    with database(address) as connection:
        keys = connection.exec_driver_sql("SELECT key FROM ratings ORDER BY key").scalars().all()
        entries = connection.exec_driver_sql("SELECT id FROM entries ORDER BY id").scalars().all()
        (packed,) = connection.exec_driver_sql(
            "SELECT ingredients FROM ratings WHERE overall = 0.8125"
        ).scalars()
    assert [len(key) for key in keys] == [3, 33]
    assert entries == [entries[0], entries[0] + 1]
    assert unpacked(packed, RATING_WORDS) == '{"magnitude":{"error":0.0625}}'


def test_a_failed_upgrade_leaves_the_old_store(address: str) -> None:
    """The second step of an upgrade fails: no part of it stays, and without the obstacle it succeeds."""
    old_store(address)
    with database(address) as connection:
        connection.execute(text("CREATE TABLE sign_offs (x INTEGER)"))
    with pytest.raises(StoreError, match="the database reports an error"):
        open_store(address)
    with database(address) as connection:
        assert connection.execute(text("SELECT version_num FROM store_format")).scalars().all() == ["1"]
        assert "load_case" not in {column["name"] for column in inspect(connection).get_columns("notes")}
        connection.execute(text("DROP TABLE sign_offs"))
    with open_store(address) as store:
        check_upgraded(store)


def test_a_store_from_a_newer_program_is_refused(address: str) -> None:
    """One sentence says so; the store stays as it is."""
    with open_store(address) as store:
        store.keep([numbered_record(0)], run=RUN)
    with database(address) as connection:
        connection.execute(text("UPDATE store_format SET version_num = '8'"))
    with pytest.raises(StoreError, match=r"this store has format 8, newer than 7, .*; upgrade the program"):
        open_store(address)
    with database(address) as connection:
        assert connection.execute(text("SELECT count(*) FROM ratings")).scalar_one() == 1
        assert connection.execute(text("SELECT version_num FROM store_format")).scalar_one() == "8"


def test_the_database_of_another_program_is_refused(address: str) -> None:
    """A database with tables that are not ours is named as such, and no table is added."""
    with database(address) as connection:
        connection.execute(text("CREATE TABLE recipes (x INTEGER)"))
    with pytest.raises(StoreError, match=r"belongs to another program \(it has the table 'recipes'\)"):
        open_store(address)
    with database(address) as connection:
        assert inspect(connection).get_table_names() == ["recipes"]
