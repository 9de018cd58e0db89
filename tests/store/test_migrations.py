"""A store of any age comes up to date with its data; one from the future is left alone."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

import correlate.store.migrations
from correlate import database as way
from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store import Note, RunInfo, Store, open_store
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
    assert [script.revision for script in scripts.walk_revisions()] == ["6", "5", "4", "3", "2", "1"]


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
        connection.execute(text("UPDATE store_format SET version_num = '7'"))
    with pytest.raises(StoreError, match=r"this store has format 7, newer than 6, .*; upgrade the program"):
        open_store(address)
    with database(address) as connection:
        assert connection.execute(text("SELECT count(*) FROM ratings")).scalar_one() == 1
        assert connection.execute(text("SELECT version_num FROM store_format")).scalar_one() == "7"


def test_the_database_of_another_program_is_refused(address: str) -> None:
    """A database with tables that are not ours is named as such, and no table is added."""
    with database(address) as connection:
        connection.execute(text("CREATE TABLE recipes (x INTEGER)"))
    with pytest.raises(StoreError, match=r"belongs to another program \(it has the table 'recipes'\)"):
        open_store(address)
    with database(address) as connection:
        assert inspect(connection).get_table_names() == ["recipes"]
