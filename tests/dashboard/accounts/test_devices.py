"""Browsers in which an account signed in before."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import Engine, select

from correlate.database import reading
from dashboard.access import Role
from dashboard.accounts import AccountBook, KnownDevices
from dashboard.accounts.devices import MOST, UNSEEN
from dashboard.accounts.tables import KNOWN_DEVICES
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    from tests.dashboard.clock import Clock


@pytest.fixture
def devices(engine: Engine, clock: Clock) -> KnownDevices:
    """Return an empty list of known browsers."""
    return KnownDevices(engine, now=clock)


def test_a_browser_is_known_to_its_account_alone(devices: KnownDevices) -> None:
    """By the mark that it was given, and by no other."""
    mark = devices.remember("Lab", "")
    assert devices.recognized("lab", mark)
    assert not devices.recognized("viewer", mark)
    assert not devices.recognized("lab", mark + "x")
    assert not devices.recognized("lab", "")


def test_a_known_browser_keeps_its_mark(devices: KnownDevices) -> None:
    """Signing in once more changes nothing."""
    mark = devices.remember("lab", "")
    assert devices.remember("lab", mark) == mark


def test_a_mark_that_somebody_planted_is_replaced(devices: KnownDevices) -> None:
    """The account that planted it stays known in this browser, but does not learn the new mark."""
    planted = devices.remember("viewer", "")
    mark = devices.remember("lab", planted)
    assert mark != planted
    assert not devices.recognized("lab", planted)
    assert devices.recognized("lab", mark) == devices.recognized("viewer", mark) != ""


def test_the_database_holds_no_mark(devices: KnownDevices, engine: Engine) -> None:
    """Who reads it cannot pretend to be a known browser."""
    mark = devices.remember("lab", "")
    with reading(engine) as connection:
        assert mark not in repr(connection.execute(select(KNOWN_DEVICES)).all())


def test_browsers_are_forgotten(devices: KnownDevices, clock: Clock) -> None:
    """The one that was not seen for longest where there are too many, and all after half a year."""
    first = devices.remember("lab", "")
    others = []
    for _ in range(MOST):
        clock.now += timedelta(minutes=1)
        others.append(devices.remember("lab", ""))
    assert not devices.recognized("lab", first)
    assert all(devices.recognized("lab", mark) for mark in others)
    clock.now += UNSEEN + timedelta(seconds=1)
    assert not any(devices.recognized("lab", mark) for mark in others)


def test_a_new_password_forgets_the_browsers(devices: KnownDevices, engine: Engine) -> None:
    """Somebody who knew the old one may have signed in; another role forgets none."""
    book = AccountBook(engine, passwords=CHEAP)
    book.add("lab", Role.LAB, PASSWORD)
    lab, viewer = devices.remember("lab", ""), devices.remember("viewer", "")
    book.change_role("lab", Role.VIEWER)
    assert devices.recognized("lab", lab)
    book.change_password("lab", "another long password")
    assert not devices.recognized("lab", lab)
    assert devices.recognized("viewer", viewer)
