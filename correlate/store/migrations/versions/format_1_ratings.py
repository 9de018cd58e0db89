"""Ratings, where they came from, and notes on a campaign or a release."""

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None

# Only a plain INTEGER counts by itself in SQLite.
NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def upgrade() -> None:
    """Make the first tables."""
    _make_contents()
    _make_ratings()
    _make_entries()
    _make_notes()


def _number() -> sa.Column[int]:
    return sa.Column("id", NUMBER, primary_key=True)


def _text(name: str, *constraints: sa.ForeignKey) -> sa.Column[str]:
    return sa.Column(name, sa.Text, *constraints, nullable=False)


def _score(name: str) -> sa.Column[float]:
    return sa.Column(name, sa.Double, sa.CheckConstraint(f"{name} BETWEEN 0 AND 1"), nullable=False)


def _make_contents() -> None:
    for name in ("settings", "inputs"):
        op.create_table(name, sa.Column("hash", sa.Text, primary_key=True), _text("content"))


def _make_ratings() -> None:
    op.create_table(
        "ratings",
        sa.Column("key", sa.Text, primary_key=True),
        _score("overall"),
        _score("corridor"),
        _score("phase"),
        _score("magnitude"),
        _score("slope"),
        _text("grade"),
        sa.Column("shift_s", sa.Double, nullable=False),
        sa.Column("samples", sa.Integer, nullable=False),
        _text("settings_hash", sa.ForeignKey("settings.hash")),
        _text("ingredients"),
        _text("version"),
    )


def _make_entries() -> None:
    op.create_table(
        "runs",
        _number(),
        _text("who"),
        sa.Column("started", sa.DateTime(timezone=True), nullable=False),
        _text("version"),
        _text("campaign_sha256"),
        sa.UniqueConstraint("who", "started", "version", "campaign_sha256", name="one_row_a_run"),
    )
    names = ("campaign", "release", "load_case", "channel", "repeat")
    op.create_table(
        "entries",
        _number(),
        sa.Column("run_id", NUMBER, sa.ForeignKey("runs.id"), nullable=False),
        *(_text(name) for name in names),
        _text("rating_key", sa.ForeignKey("ratings.key")),
        _text("reference_hash", sa.ForeignKey("inputs.hash")),
        _text("candidate_hash", sa.ForeignKey("inputs.hash")),
        sa.UniqueConstraint("run_id", *names, name="one_entry_a_pair_and_run"),
    )
    op.create_index("entries_by_pair", "entries", names)
    op.create_index("entries_by_rating", "entries", ["rating_key"])


def _make_notes() -> None:
    op.create_table(
        "notes",
        _number(),
        _text("campaign"),
        _text("release"),
        _text("text"),
        _text("who"),
        sa.Column("entered", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_index("notes_by_release", "notes", ["campaign", "release"])
