"""Evidence: what the ratings of a load case of a release stand on, and the findings in its tests."""

import sqlalchemy as sa
from alembic import op

revision = "4"
down_revision = "3"


def upgrade() -> None:
    """Add the tables of evidence and of findings."""
    for table, names in (
        ("evidence", ("campaign", "release", "load_case")),
        ("findings", ("campaign", "load_case")),
    ):
        op.create_table(
            table,
            *(sa.Column(name, sa.Text, primary_key=True) for name in names),
            sa.Column("state", sa.Text, nullable=False),
            sa.Column("content", sa.Text, nullable=False),
        )
