"""Sessions in the database, on SQLite and PostgreSQL."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from dashboard.access import Role
from dashboard.accounts import AccountBook, SessionBook
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from tests.dashboard.clock import Clock


@pytest.fixture
def sessions(engine: Engine, clock: Clock) -> SessionBook:
    """Return the sessions of a book with the accounts lab and office."""
    book = AccountBook(engine, passwords=CHEAP)
    book.add("lab", Role.LAB, PASSWORD)
    book.add("office", Role.MANAGER, PASSWORD)
    return SessionBook(engine, longest=timedelta(hours=2), idle=timedelta(minutes=20), now=clock)


def test_a_session_is_found_by_its_secret_until_it_ends(sessions: SessionBook) -> None:
    """Ending it a second time, or as another account, does nothing."""
    secret = sessions.start("lab", "192.0.2.9")
    found = sessions.find(secret)
    assert found is not None
    assert (found.known.name, found.known.role, found.address) == ("lab", Role.LAB, "192.0.2.9")
    assert sessions.find(secret[:-1]) is None
    assert sessions.find(found.id) is None
    assert not sessions.end(found.id, "signed out", of="office")
    assert sessions.end(found.id, "signed out", of="lab")
    assert not sessions.end(found.id, "signed out", of="lab")
    assert sessions.find(secret) is None


def test_of_requests_that_end_a_session_together_one_does(sessions: SessionBook) -> None:
    """So that the trail has one line."""
    found = sessions.find(sessions.start("lab", ""))
    assert found is not None
    with ThreadPoolExecutor(8) as threads:
        ended = list(threads.map(lambda _: sessions.end(found.id, "was idle", of="lab"), range(8)))
    assert ended.count(True) == 1


def test_use_prolongs_until_the_longest_duration(sessions: SessionBook, clock: Clock) -> None:
    """Nothing is written within a minute; what ended cannot be used again."""
    secret = sessions.start("lab", "")
    for minutes in (0, 19, 19, 19, 19, 19, 19):
        clock.forward(minutes=minutes)
        found = sessions.find(secret)
        assert found is not None
        assert sessions.over(found) == ""
        assert sessions.due(found) == (minutes > 0)
        sessions.seen(found)
    clock.forward(minutes=6)
    found = sessions.find(secret)
    assert found is not None
    assert sessions.over(found) == "reached its longest duration"
    clock.forward(minutes=-7)
    assert sessions.over(found) == ""
    clock.forward(minutes=14)
    idle = sessions.find(sessions.start("office", ""))
    assert idle is not None
    clock.forward(minutes=20)
    assert sessions.over(idle) == "was idle"


def test_the_list_leaves_out_what_is_over(sessions: SessionBook, clock: Clock) -> None:
    """Newest first, of one account."""
    sessions.start("lab", "192.0.2.1")
    sessions.start("office", "192.0.2.9")
    clock.forward(minutes=15)
    sessions.start("lab", "192.0.2.2")
    clock.forward(minutes=1)
    sessions.start("lab", "192.0.2.3")
    assert [one.address for one in sessions.open_of("lab")] == ["192.0.2.3", "192.0.2.2", "192.0.2.1"]
    clock.forward(minutes=5)
    assert [one.address for one in sessions.open_of("lab")] == ["192.0.2.3", "192.0.2.2"]
