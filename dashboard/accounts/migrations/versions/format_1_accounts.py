"""Accounts, failed attempts to sign in, and the audit trail."""

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None

# Only a plain INTEGER counts by itself in SQLite.
NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")

ROLES = "role IN ('viewer', 'manager', 'analyst', 'lab', 'admin')"

REFUSAL = "lines of the audit trail are never changed"

REFUSALS = {
    "sqlite": [
        f"CREATE TRIGGER audit_trail_no_{deed} BEFORE {deed} ON audit_trail "
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        for deed in ("update", "delete")
    ],
    "postgresql": [
        (
            "CREATE FUNCTION refuse_change_of_audit_trail() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
        ),
        (
            "CREATE TRIGGER audit_trail_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON audit_trail "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_audit_trail()"
        ),
    ],
}


def upgrade() -> None:
    """Create the first tables."""
    op.create_table(
        "accounts",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("role", sa.Text, sa.CheckConstraint(ROLES), nullable=False),
        _text("password_hash"),
        _text("session_mark"),
        sa.Column("closed", sa.Boolean, nullable=False),
        _text("added"),
    )
    op.create_table(
        "sign_in_failures",
        sa.Column("id", NUMBER, primary_key=True),
        *(_text(name) for name in ("moment", "name", "address")),
    )
    op.create_index("failures_by_moment", "sign_in_failures", ["moment"])
    op.create_table(
        "audit_trail",
        sa.Column("id", NUMBER, primary_key=True),
        *(_text(name) for name in ("moment", "who", "what", "about", "address")),
    )
    for statement in REFUSALS[op.get_bind().dialect.name]:
        op.execute(statement)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)
