"""A PostgreSQL server for the rounds, one for all of them, and empty schemas on it."""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING
from uuid import uuid4

from sqlalchemy import create_engine, make_url, text
from sqlalchemy.schema import CreateSchema, DropSchema

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
    url = make_url(_URL[0]).set(drivername="postgresql+psycopg")
    name = f"correlate_test_{uuid4().hex}"
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(CreateSchema(name))
    inside = url.update_query_dict({"options": f"-csearch_path={name}"})
    try:
        yield inside.set(drivername="postgresql").render_as_string(hide_password=False)
    finally:
        with engine.begin() as connection:
            connection.execute(text("SET client_min_messages = warning"))
            connection.execute(DropSchema(name, cascade=True))
        engine.dispose()
