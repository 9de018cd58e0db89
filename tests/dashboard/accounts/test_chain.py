"""The chain of the audit trail: what breaks it, what an export shows, and writers at the same time."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import text

from correlate import CorrelateError
from correlate.database import writing
from dashboard.accounts import AuditTrail, open_accounts
from dashboard.accounts.chain import BEGINNING
from dashboard.accounts.trail_file import difference, read_export, write_export
from tests.dashboard.accounts import trail_writer
from tests.dashboard.accounts.old_databases import write_old_database

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection, Engine

WRITERS, LINES = 3, 20


@pytest.fixture
def trail(engine: Engine) -> AuditTrail:
    """Return a trail of five lines."""
    made = AuditTrail(engine, now=lambda: datetime(2031, 4, 5, 6, 7, tzinfo=UTC))
    for number in range(5):
        made.add(who="lab", what=f"deed {number}", about='né "a"', address="192.0.2.1")
    return made


def unprotected(connection: Connection) -> None:
    """Remove the protection of the trail, as the owner of its database can."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("ALTER TABLE audit_trail DISABLE TRIGGER ALL"))
        return
    for deed in ("update", "delete", "insert"):
        connection.execute(text(f"DROP TRIGGER audit_trail_no_{deed}"))


def test_a_new_trail_is_unbroken(trail: AuditTrail) -> None:
    """It says how many lines it has, and since when."""
    assert trail.check().words == "5 lines, unbroken since 2031-04-05"


def test_an_empty_trail_has_no_lines(engine: Engine) -> None:
    """Nothing is claimed of it."""
    assert AuditTrail(engine).check().words == "no lines"


def test_the_hash_can_be_computed_without_this_program(trail: AuditTrail) -> None:
    """SHA-256 of the documented form: an object of JSON with sorted keys, no spaces, ASCII only."""
    previous = BEGINNING
    for row in trail.rows():
        form = (
            f'{{"about":"n\\u00e9 \\"a\\"","address":"192.0.2.1","id":{row["id"]},'
            f'"moment":"2031-04-05T06:07:00.000Z","previous":"{previous}",'
            f'"what":"deed {row["id"] - 1}","who":"lab"}}'
        )
        previous = hashlib.sha256(form.encode()).hexdigest()
        assert row["hash"] == previous


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ("UPDATE audit_trail SET who = 'nobody' WHERE id = 3", 3),
        ("UPDATE audit_trail SET moment = '2031-04-05T06:06:00.000Z' WHERE id = 1", 1),
        ("DELETE FROM audit_trail WHERE id = 2", 3),
        ("DELETE FROM audit_trail WHERE id = 1", 2),
        ("UPDATE audit_trail SET hash = 'x' WHERE id = 5", 5),
        ("UPDATE audit_trail SET id = 9 WHERE id = 5", 9),
        (
            "INSERT INTO audit_trail VALUES (6, 'x', 'x', 'x', 'x', 'x', 'x')",
            6,
        ),
    ],
)
def test_a_changed_trail_names_its_first_line_that_does_not_fit(
    trail: AuditTrail, engine: Engine, change: str, line: int
) -> None:
    """Without the protection of the database lines can be changed, removed and inserted, but not unseen."""
    with writing(engine) as connection:
        unprotected(connection)
        connection.execute(text(change))
    assert trail.check().broken_at == line
    assert trail.check().words.startswith(f"broken at line {line}: ")


def test_the_newest_lines_are_checked_alone(trail: AuditTrail, engine: Engine) -> None:
    """A change of an older line is not among them."""
    with writing(engine) as connection:
        unprotected(connection)
        connection.execute(text("UPDATE audit_trail SET who = 'nobody' WHERE id = 2"))
    assert trail.check(most=3).words == "3 lines, unbroken since 2031-04-05"
    assert trail.check(most=4).broken_at == 2
    assert trail.check(most=9).broken_at == 2


def test_an_export_shows_what_was_removed_from_the_end(
    trail: AuditTrail, engine: Engine, tmp_path: Path
) -> None:
    """The chain alone cannot: what is left of it fits."""
    file = tmp_path / "trail.jsonl"
    assert write_export(file, trail.rows()) == 5
    trail.add(who="lab", what="one more")
    assert difference(read_export(file), trail.rows()) == ""
    with writing(engine) as connection:
        unprotected(connection)
        connection.execute(text("DELETE FROM audit_trail WHERE id > 3"))
    assert trail.check().broken_at is None
    assert difference(read_export(file), trail.rows()).startswith("line 4 of the export is not in the audit")


def test_an_export_shows_a_chain_that_was_computed_again(
    trail: AuditTrail, engine: Engine, tmp_path: Path
) -> None:
    """The owner of the database removes two lines and writes others in their place."""
    file = tmp_path / "trail.jsonl"
    write_export(file, trail.rows())
    with writing(engine) as connection:
        unprotected(connection)
        connection.execute(text("DELETE FROM audit_trail WHERE id > 3"))
    for _ in range(4):
        trail.add(who="lab", what="nothing to see")
    assert trail.check().broken_at is None
    assert difference(read_export(file), trail.rows()).startswith("line 4 of the export is another one")


def test_an_export_is_never_overwritten(trail: AuditTrail, tmp_path: Path) -> None:
    """It may be the only proof of what the trail was."""
    file = tmp_path / "trail.jsonl"
    write_export(file, trail.rows())
    before = file.read_bytes()
    with pytest.raises(CorrelateError, match=r"trail\.jsonl: this file already exists; name a new file"):
        write_export(file, trail.rows())
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"deed 1", b"deed 7", r"line 2: this export was changed: the line does not fit the one before"),
        (b'"id":3', b'"id":"3"', r"line 3: this is not an export of an audit trail"),
        (b'"who"', b'"whom"', r"line 1: this is not an export of an audit trail"),
        (b"{", b"[", r"line 1: this is not an export of an audit trail"),
    ],
)
def test_a_changed_export_is_refused(
    trail: AuditTrail, tmp_path: Path, old: bytes, new: bytes, words: str
) -> None:
    """The line is named."""
    file = tmp_path / "trail.jsonl"
    write_export(file, trail.rows())
    file.write_bytes(file.read_bytes().replace(old, new, 1))
    with pytest.raises(CorrelateError, match=words):
        list(read_export(file))


@pytest.mark.parametrize("kept", [0, 1, 200])
def test_an_export_that_is_cut_off_is_refused(trail: AuditTrail, tmp_path: Path, kept: int) -> None:
    """Nothing of it, or part of a line, is no export."""
    file = tmp_path / "trail.jsonl"
    write_export(file, trail.rows())
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(CorrelateError, match=r"trail\.jsonl.*: this .*export"):
        list(read_export(file))


def test_writers_at_the_same_time_make_one_chain(place: str) -> None:
    """Three programs write twenty lines each, and no line is lost or has the number of another."""
    open_accounts(place).dispose()
    command = [sys.executable, trail_writer.__file__, place, str(LINES)]
    programs = [subprocess.Popen(command, stdin=subprocess.PIPE) for _ in range(WRITERS)]
    for program in programs:
        # They begin together.
        assert program.stdin is not None
        program.stdin.close()
    assert [program.wait() for program in programs] == [0] * WRITERS
    engine = open_accounts(place)
    trail = AuditTrail(engine)
    assert trail.check().entries == WRITERS * LINES
    assert trail.check().broken_at is None
    assert [row["id"] for row in trail.rows()] == list(range(1, WRITERS * LINES + 1))
    assert len(set(trail.last(1000))) == WRITERS * LINES
    engine.dispose()


def test_lines_of_before_are_chained_by_the_upgrade_and_it_is_said(place: str) -> None:
    """Nothing is claimed of the time before."""
    write_old_database(place)
    engine = open_accounts(place)
    state = AuditTrail(engine).check()
    assert state.words == (
        "3 lines, unbroken since 2030-01-02; the hashes of the first 2 were added later, by an upgrade"
    )
    assert AuditTrail(engine).last(1)[0].about == "2 lines"
    engine.dispose()


def test_an_export_is_lines_of_json(trail: AuditTrail, tmp_path: Path) -> None:
    """Any program can read it."""
    file = tmp_path / "trail.jsonl"
    write_export(file, trail.rows())
    rows = [json.loads(line) for line in file.read_text().splitlines()]
    assert [row["what"] for row in rows] == [f"deed {number}" for number in range(5)]
    assert {row["about"] for row in rows} == {'né "a"'}
