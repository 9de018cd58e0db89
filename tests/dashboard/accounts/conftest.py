"""Each test of the accounts that asks for a `place` runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.schema import CreateSchema, DropSchema

from dashboard.accounts import open_accounts
from tests.store.postgres_server import postgres_server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlalchemy import Engine


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """URL of a PostgreSQL server."""
    with postgres_server() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an accounts database that does not exist yet."""
    if request.param == "sqlite":
        yield str(tmp_path / "accounts.sqlite")
        return
    url = make_url(request.getfixturevalue("server")).set(drivername="postgresql+psycopg")
    schema, engine = f"accounts_{uuid4().hex}", create_engine(url)
    with engine.begin() as connection:
        connection.execute(CreateSchema(schema))
    inside = url.update_query_dict({"options": f"-csearch_path={schema}"})
    yield inside.set(drivername="postgresql").render_as_string(hide_password=False)
    with engine.begin() as connection:
        connection.execute(text("SET client_min_messages = warning"))
        connection.execute(DropSchema(schema, cascade=True))
    engine.dispose()


@pytest.fixture
def engine(place: str) -> Iterator[Engine]:
    """Open a new accounts database."""
    opened = open_accounts(place)
    yield opened
    opened.dispose()
