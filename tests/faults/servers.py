"""A PostgreSQL server for the rounds, one for all of them, and empty schemas on it."""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from tests.store.postgres_server import empty_schema as schema_on
from tests.store.postgres_server import postgres_server

if TYPE_CHECKING:
    from collections.abc import Iterator

_STARTED = ExitStack()
_URL: list[str] = []


@contextmanager
def one_server() -> Iterator[None]:
    """End the server after the block, if one was started in it."""
    with _STARTED:
        yield
    _URL.clear()


@contextmanager
def empty_schema() -> Iterator[str]:
    """Give the address of an empty schema on the server, which is started when it is first needed."""
    if not _URL:
        _URL.append(_STARTED.enter_context(postgres_server()))
    with schema_on(_URL[0]) as url:
        yield url
