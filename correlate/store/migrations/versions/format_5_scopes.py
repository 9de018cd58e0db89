"""Scopes: what a signed release may be used for, and the hash of the inputs behind its numbers."""

import sqlalchemy as sa
from alembic import op

revision = "5"
down_revision = "4"


def upgrade() -> None:
    """Add two columns to the sign-offs."""
    for name in ("scope", "inputs_sha256"):
        op.add_column("sign_offs", sa.Column(name, sa.Text, nullable=False, server_default=""))
