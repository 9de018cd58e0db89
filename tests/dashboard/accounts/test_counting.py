"""Attempts of strangers: counted, and one line of the trail each quarter of an hour."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import Engine, func, select

from correlate.database import reading
from dashboard.accounts import AuditTrail
from dashboard.accounts.counting import MOST, MOST_OF_ALL, PERIOD, SOMETHING_ELSE
from dashboard.accounts.tables import COUNTED, TRAIL

if TYPE_CHECKING:
    from tests.dashboard.clock import Clock

WHAT = "was throttled at sign-in"


@pytest.fixture
def trail(engine: Engine, clock: Clock) -> AuditTrail:
    """Return an empty trail."""
    return AuditTrail(engine, now=clock)


def rows(engine: Engine) -> tuple[int, int]:
    """Return how many lines and how many counts the database holds."""
    with reading(engine) as connection:
        lines, counts = (
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (TRAIL, COUNTED)
        )
    return lines, counts


def test_many_attempts_become_one_line(trail: AuditTrail, clock: Clock) -> None:
    """Once their quarter of an hour is over; until then they are counted, and can be seen."""
    for _ in range(37):
        trail.count(who="lab", what=WHAT, address="192.0.2.1")
    assert trail.last(9) == []
    (one,) = trail.counted()
    assert (one.who, one.what, one.address, one.attempts) == ("lab", WHAT, "192.0.2.1", 37)
    clock.now += PERIOD
    trail.settle()
    assert trail.counted() == []
    (line,) = trail.last(9)
    assert (line.who, line.address, line.about) == ("lab", "192.0.2.1", "")
    assert line.what == "was throttled at sign-in, 37 attempts since 2031-04-05 06:07"
    assert trail.check().words == "1 line, unbroken since 2031-04-05"


def test_the_line_stands_before_what_is_done_later(trail: AuditTrail, clock: Clock) -> None:
    """Whatever is written next writes it first."""
    trail.count(who="lab", what=WHAT, address="192.0.2.1")
    clock.now += PERIOD
    trail.add(who="lab", what="signed in")
    assert [entry.what for entry in trail.last(9)] == [
        f"{WHAT}, 1 attempt since 2031-04-05 06:07",
        "signed in",
    ]


def test_names_and_addresses_without_end_do_not_fill_the_trail(
    trail: AuditTrail, clock: Clock, engine: Engine
) -> None:
    """Twenty are counted on their own, all others together; no attempt is lost."""
    for number in range(MOST * 5):
        trail.count(who=f"name{number}", what=WHAT, address=f"198.51.100.{number}")
    assert rows(engine) == (0, MOST + 1)
    trail.count(who="name1", what=WHAT, address="198.51.100.1")
    trail.count(who="somebody", what="could not sign in", address="198.51.100.1")
    clock.now += PERIOD
    trail.settle()
    assert rows(engine) == (MOST + 2, 0)
    (others,) = [entry for entry in trail.last(99) if not entry.who]
    assert others.what.startswith(f"{WHAT}, {MOST * 4} attempts since ")
    assert (others.about, others.address) == ("other names and addresses", "")
    assert [e.what[: len(WHAT) + 12] for e in trail.last(99) if e.who == "name1"] == [f"{WHAT}, 2 attempts"]


def test_kinds_of_attempts_without_end_do_not_fill_the_trail(trail: AuditTrail, engine: Engine) -> None:
    """Beyond two hundred counts, whatever else is done is counted together."""
    for number in range(MOST_OF_ALL + 50):
        trail.count(who="somebody", what=f"was refused as subject {number}", address="192.0.2.1")
    assert rows(engine) == (0, MOST_OF_ALL + 1)
    (rest,) = [one for one in trail.counted() if one.what == SOMETHING_ELSE]
    assert (rest.attempts, rest.about) == (50, "other names and addresses")


def test_a_network_is_counted_once(trail: AuditTrail) -> None:
    """Of IPv6, whoever has one address has 2 to the power of 64."""
    for number in range(30):
        trail.count(who="lab", what=WHAT, address=f"2001:db8::{number:x}")
    (one,) = trail.counted()
    assert (one.address, one.attempts) == ("2001:db8::/64", 30)


@pytest.mark.parametrize("step", [timedelta(days=-365), timedelta(seconds=-1), timedelta(days=365)])
def test_setting_the_clock_loses_no_count(trail: AuditTrail, clock: Clock, step: timedelta) -> None:
    """A period that lies in the future is over."""
    trail.count(who="lab", what=WHAT, address="192.0.2.1")
    clock.now += step
    trail.count(who="lab", what=WHAT, address="192.0.2.1")
    assert len(trail.last(9)) == len(trail.counted()) == 1


def test_texts_are_cut(trail: AuditTrail) -> None:
    """As those of every line are; no database likes the null character."""
    trail.count(who="a\0b" + "c" * 1000, what=WHAT, address="192.0.2.1")
    assert len(trail.counted()[0].who) == 300
