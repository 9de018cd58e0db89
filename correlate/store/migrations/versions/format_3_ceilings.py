"""Ceilings: how well the repeats of a channel agree with each other."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Add the table of ceilings."""
    op.create_table(
        "ceilings",
        *(sa.Column(name, sa.Text, primary_key=True) for name in ("campaign", "load_case", "channel")),
        sa.Column("key", sa.Text, nullable=False),
        *(
            sa.Column(name, sa.Double, sa.CheckConstraint(f"{name} BETWEEN 0 AND 1"), nullable=False)
            for name in ("median", "lowest", "highest")
        ),
        sa.Column("reference_peak", sa.Double, nullable=False),
        sa.Column("repeats", sa.Integer, nullable=False),
    )
