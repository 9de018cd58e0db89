"""The chain of the audit trail, and no way to replace one of its entries."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from dashboard.accounts.chain import BEGINNING, CHAINED_LATER, HASHED, entry_hash
from dashboard.accounts.tables import moment_text

revision = "3"
down_revision = "2"

NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")

BATCH = 1000

REFUSAL = "lines of the audit trail are never changed, only added at its end"

IS_NEXT = "NEW.id = COALESCE((SELECT max(id) FROM audit_trail), 0) + 1"

REFUSALS = {
    # INSERT OR REPLACE removes the line that is in its way without asking the trigger of DELETE.
    "sqlite": [
        f"CREATE TRIGGER audit_trail_no_{deed} BEFORE {deed} ON audit_trail {when} "
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        for deed, when in (("update", ""), ("delete", ""), ("insert", f"WHEN NOT ({IS_NEXT})"))
    ],
    "postgresql": [
        (
            "CREATE OR REPLACE FUNCTION refuse_change_of_audit_trail() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
        ),
        (
            "CREATE TRIGGER audit_trail_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON audit_trail "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_audit_trail()"
        ),
        (
            "CREATE FUNCTION refuse_insertion_into_audit_trail() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN IF {IS_NEXT} THEN RETURN NEW; END IF; RAISE EXCEPTION '{REFUSAL}'; END $$"
        ),
        (
            "CREATE TRIGGER audit_trail_grows_at_its_end BEFORE INSERT ON audit_trail "
            "FOR EACH ROW EXECUTE FUNCTION refuse_insertion_into_audit_trail()"
        ),
    ],
}


def upgrade() -> None:
    """Create the trail again, with the hash of every entry."""
    op.rename_table("audit_trail", "audit_trail_before")
    chained = op.create_table(
        "audit_trail",
        # Numbers are given in the turn in which the hash is computed.
        sa.Column("id", NUMBER, primary_key=True, autoincrement=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in HASHED[1:]),
        sa.Column("hash", sa.Text, nullable=False),
    )
    _chain(chained)
    op.drop_table("audit_trail_before")
    for statement in REFUSALS[op.get_bind().dialect.name]:
        op.execute(statement)


def _chain(chained: sa.Table) -> None:
    before = sa.table("audit_trail_before", *(sa.column(name) for name in HASHED))
    connection, previous, last, count = op.get_bind(), BEGINNING, 0, 0
    while True:
        wanted = sa.select(before).where(before.c.id > last).order_by(before.c.id).limit(BATCH)
        rows = [dict(row) for row in connection.execute(wanted).mappings()]
        if not rows:
            break
        for row in rows:
            row["hash"] = previous = entry_hash(row, previous)
        connection.execute(sa.insert(chained), rows)
        last, count = rows[-1]["id"], count + len(rows)
    if count:
        connection.execute(sa.insert(chained), _told(last, count, previous))


def _told(last: int, count: int, previous: str) -> dict[str, object]:
    """Return the entry that says what the hashes before it are worth."""
    entry: dict[str, object] = {
        "id": last + 1,
        "moment": moment_text(datetime.now(UTC)),
        "who": "the upgrade of the accounts database",
        "what": CHAINED_LATER,
        "about": f"{count} lines",
        "address": "",
    }
    return entry | {"hash": entry_hash(entry, previous)}
