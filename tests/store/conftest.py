"""Each test of the store that asks for an `address` runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.store import Store, open_store
from tests.store.postgres_server import empty_schema, postgres_server
from tests.store.writer import Writer, writer_program

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """URL of a PostgreSQL server."""
    with postgres_server() as url:
        yield url


@pytest.fixture
def postgres_schema(postgres: str) -> Iterator[str]:
    """URL of an empty schema of its own on the server."""
    with empty_schema(postgres) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of a store that does not exist yet."""
    if request.param == "sqlite":
        return str(tmp_path / "ratings.sqlite")
    url: str = request.getfixturevalue("postgres_schema")
    return url


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    """Open a new store."""
    with open_store(address) as opened:
        yield opened


@pytest.fixture(scope="session")
def writers() -> Iterator[tuple[Writer, Writer]]:
    """Two programs that write ratings on order."""
    with writer_program() as one, writer_program() as other:
        yield one, other
