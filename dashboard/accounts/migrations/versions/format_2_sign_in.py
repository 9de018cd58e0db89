"""Sessions, second factors, known devices, accounts of an identity provider, and counted attempts."""

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"

ROLES = "role IN ('viewer', 'manager', 'analyst', 'lab', 'admin')"

KEPT = ("name", "role", "password_hash", "session_mark", "closed", "added")


def upgrade() -> None:
    """Add the tables and columns for signing in."""
    _rebuild_accounts()
    _make_sessions()
    _make_proofs()
    _make_counts()


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _rebuild_accounts() -> None:
    """Create the table again: SQLite cannot add a constraint, and an early one does not accept every role."""
    op.rename_table("accounts", "accounts_before")
    op.create_table(
        "accounts",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("role", sa.Text, sa.CheckConstraint(ROLES), nullable=False),
        _text("password_hash"),
        _text("session_mark"),
        sa.Column("closed", sa.Boolean, nullable=False),
        _text("added"),
        sa.Column("totp_secret", sa.Text),
        sa.Column("totp_last_step", sa.Integer),
        sa.Column("issuer", sa.Text),
        sa.Column("external_id", sa.Text),
        sa.UniqueConstraint("issuer", "external_id", name="accounts_external"),
    )
    columns = ", ".join(KEPT)
    op.execute(f"INSERT INTO accounts ({columns}) SELECT {columns} FROM accounts_before")  # noqa: S608 - own names
    op.drop_table("accounts_before")


def _make_sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("id", sa.Text, primary_key=True),
        *(_text(name) for name in ("account", "started", "last_seen", "address")),
        sa.Column("ended", sa.Text),
        sa.Column("how", sa.Text, nullable=False, server_default=""),
        sa.Column("device_mark", sa.Text, nullable=False, server_default=""),
    )
    op.create_index("sessions_by_account", "sessions", ["account"])


def _make_proofs() -> None:
    op.create_table(
        "recovery_codes",
        sa.Column("account", sa.Text, primary_key=True),
        sa.Column("code_hash", sa.Text, primary_key=True),
        sa.Column("used", sa.Text),
    )
    op.create_table(
        "known_devices",
        sa.Column("account", sa.Text, primary_key=True),
        sa.Column("mark_hash", sa.Text, primary_key=True),
        _text("last_seen"),
    )


def _make_counts() -> None:
    for name in ("device", "boot"):
        op.add_column("sign_in_failures", sa.Column(name, sa.Text, nullable=False, server_default=""))
    op.add_column("sign_in_failures", sa.Column("ticks", sa.Double, nullable=False, server_default="0"))
    for name in ("name", "address"):
        op.create_index(f"failures_by_{name}", "sign_in_failures", [name])
    op.create_table(
        "counted_attempts",
        *(sa.Column(name, sa.Text, primary_key=True) for name in ("begun", "what", "who", "address")),
        sa.Column("attempts", sa.Integer, nullable=False),
    )
