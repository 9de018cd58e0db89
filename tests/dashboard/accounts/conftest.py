"""Each test of the accounts that asks for a `place` runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboard.accounts import open_accounts
from tests.dashboard.clock import Clock
from tests.store.postgres_server import empty_schema, postgres_server

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
    with empty_schema(request.getfixturevalue("server")) as url:
        yield url


@pytest.fixture
def engine(place: str) -> Iterator[Engine]:
    """Open a new accounts database."""
    opened = open_accounts(place)
    yield opened
    opened.dispose()


@pytest.fixture
def clock() -> Clock:
    """Return the clock of the server."""
    return Clock()
