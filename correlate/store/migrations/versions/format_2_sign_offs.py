"""Sign-offs; notes may speak of one load case and one channel."""

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"


def upgrade() -> None:
    """Add the table of sign-offs, and two columns to the notes."""
    for name in ("load_case", "channel"):
        op.add_column("notes", sa.Column(name, sa.Text, nullable=False, server_default=""))
    op.create_table(
        "sign_offs",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer, "sqlite"), primary_key=True),
        sa.Column("campaign", sa.Text, nullable=False),
        sa.Column("release", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("entered", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ratings_sha256", sa.Text, nullable=False),
    )
    op.create_index("sign_offs_by_release", "sign_offs", ["campaign", "release"])
