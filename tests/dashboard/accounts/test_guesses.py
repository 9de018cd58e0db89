"""The limit on attempts: whom it meets, for how long, whatever the clock does."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, select

from correlate.database import reading
from dashboard.accounts import Throttle
from dashboard.accounts.clock import Instant, present
from dashboard.accounts.guesses import OF_BOTH, OF_DEVICE, OF_NAME, OF_NETWORK, WINDOW
from dashboard.accounts.tables import FAILURES

HOUR = timedelta(hours=1)
YEAR = timedelta(days=365)
HERE = "192.0.2.1"


class Clock:
    """Time that passes when it is told to, and a clock that can be set."""

    def __init__(self, boot: str = "this system") -> None:
        self.now = Instant(moment=datetime(2031, 4, 5, 6, 7, tzinfo=UTC), ticks=5000.0, boot=boot)

    def __call__(self) -> Instant:
        """Return the present moment."""
        return self.now

    def pass_by(self, time: timedelta) -> None:
        """Let time pass."""
        self.set_by(time)
        self.now = replace(self.now, ticks=self.now.ticks + time.total_seconds())

    def set_by(self, step: timedelta) -> None:
        """Set the clock, while no time passes."""
        self.now = replace(self.now, moment=self.now.moment + step)


@pytest.fixture
def clock() -> Clock:
    """Return the clock of the system."""
    return Clock()


@pytest.fixture
def throttle(engine: Engine, clock: Clock) -> Throttle:
    """Return the limit."""
    return Throttle(engine, now=clock)


def fail(throttle: Throttle, times: int, name: str = "lab", address: str = HERE, device: str = "") -> None:
    """Make attempts that fail; all of them are looked at."""
    for _ in range(times):
        assert throttle.begin(name, address, device=device).wait_s == 0


def refused_for_s(throttle: Throttle, name: str = "lab", address: str = HERE, device: str = "") -> float:
    """Return for how long an attempt is not looked at; one that is looked at is given back."""
    attempt = throttle.begin(name, address, device=device)
    throttle.give_back(attempt)
    return attempt.wait_s


def test_guessing_is_slowed_down_and_forgiven(throttle: Throttle, clock: Clock) -> None:
    """Five failures of a name from an address; then nothing until a quarter of an hour after the first."""
    for _ in range(OF_BOTH - 1):
        fail(throttle, 1)
        clock.pass_by(timedelta(minutes=1))
    assert refused_for_s(throttle) == 0
    fail(throttle, 1, "LAB")
    # The first of the five counts for eleven more minutes.
    assert refused_for_s(throttle) == (WINDOW - timedelta(minutes=4)).total_seconds()
    assert refused_for_s(throttle, address="192.0.2.2") == 0
    assert refused_for_s(throttle, "other") == 0
    clock.pass_by(WINDOW - timedelta(minutes=4) + timedelta(seconds=1))
    assert refused_for_s(throttle) == 0


def test_attempts_at_the_same_time_do_not_pass_together(throttle: Throttle) -> None:
    """Thirty programs that count at once count one after the other."""
    with ThreadPoolExecutor(30) as pool:
        waits = list(pool.map(lambda _: throttle.begin("lab", HERE).wait_s, range(30)))
    assert sorted(waits) == [0.0] * OF_BOTH + [WINDOW.total_seconds()] * (30 - OF_BOTH)


def test_a_refused_attempt_does_not_count(throttle: Throttle, clock: Clock) -> None:
    """Whoever keeps trying is not locked out for longer."""
    fail(throttle, OF_BOTH)
    for _ in range(3):
        clock.pass_by(timedelta(minutes=4))
        assert refused_for_s(throttle) > 0
    clock.pass_by(timedelta(minutes=3, seconds=1))
    assert refused_for_s(throttle) == 0


def test_an_address_that_tries_many_names_is_slowed_down(throttle: Throttle) -> None:
    """Every name is met, also one that was not tried yet; elsewhere nobody is."""
    for number in range(OF_NETWORK):
        fail(throttle, 1, f"name{number}")
    assert refused_for_s(throttle) == WINDOW.total_seconds()
    assert refused_for_s(throttle, "name1", "192.0.2.2") == 0


def test_a_name_that_is_tried_from_everywhere_is_slowed_down(throttle: Throttle) -> None:
    """A hundred failures from a hundred addresses are enough."""
    for number in range(OF_NAME):
        fail(throttle, 1, address=f"198.51.100.{number}")
    assert refused_for_s(throttle) == WINDOW.total_seconds()
    assert refused_for_s(throttle, "other") == 0


def test_success_forgives(throttle: Throttle) -> None:
    """Whoever knows the password may mistype it again tomorrow; others who guess stay counted."""
    fail(throttle, OF_BOTH - 1)
    fail(throttle, OF_BOTH, address="192.0.2.2")
    throttle.succeeded(throttle.begin("lab", HERE))
    fail(throttle, OF_BOTH)
    assert refused_for_s(throttle) > 0
    assert refused_for_s(throttle, address="192.0.2.2") > 0


def test_an_attempt_that_is_given_back_forgives_no_other(throttle: Throttle) -> None:
    """A right password is not enough to guess second factors for ever."""
    fail(throttle, OF_BOTH - 1)
    throttle.give_back(throttle.begin("lab", HERE))
    fail(throttle, 1)
    assert refused_for_s(throttle) > 0


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("192.0.2.1", "::ffff:192.0.2.1", True),
        ("192.0.2.1", "192.0.2.2", False),
        ("fe80::1%eth0", "fe80::2%eth0", True),
        ("", "not an address", False),
    ],
)
def test_a_network_counts_as_one_address(throttle: Throttle, one: str, other: str, same: bool) -> None:  # noqa: FBT001 - a case
    """An IPv6 network of 64 bits is one household; an IPv4 address stays the same written as IPv6."""
    fail(throttle, OF_BOTH, address=one)
    assert (refused_for_s(throttle, address=other) > 0) == same


def test_a_known_device_is_let_through_a_lockout_by_others(throttle: Throttle) -> None:
    """Strangers used up the limit of the name, and of the network; the owner's browser has its own five."""
    for number in range(OF_NAME // 2):
        fail(throttle, 1, address=f"198.51.100.{number}")
    for number in range(OF_NAME // 2):
        fail(throttle, 1, address=f"203.0.113.{number}")
    assert refused_for_s(throttle) > 0
    fail(throttle, OF_DEVICE, device="a known browser")
    assert refused_for_s(throttle, device="a known browser") == WINDOW.total_seconds()
    assert refused_for_s(throttle, device="another known browser") == 0


def test_failures_in_a_known_device_lock_nobody_else_out(throttle: Throttle) -> None:
    """They belong to its own allowance alone, and are forgotten when its owner succeeds."""
    fail(throttle, OF_DEVICE - 1, device="a known browser")
    fail(throttle, OF_BOTH)
    throttle.succeeded(throttle.begin("lab", HERE, device="a known browser"))
    assert refused_for_s(throttle, device="a known browser") == 0
    assert refused_for_s(throttle) == 0


@pytest.mark.parametrize(
    "step", [-YEAR, -HOUR, HOUR, YEAR], ids=["year back", "hour back", "hour on", "year on"]
)
def test_setting_the_clock_neither_ends_nor_lengthens_a_lockout(
    throttle: Throttle, clock: Clock, step: timedelta
) -> None:
    """What counts is the time that passed since the system started."""
    fail(throttle, OF_BOTH)
    clock.pass_by(timedelta(minutes=5))
    clock.set_by(step)
    assert refused_for_s(throttle) == 600
    clock.pass_by(timedelta(minutes=9, seconds=59))
    assert refused_for_s(throttle) == 1
    clock.pass_by(timedelta(seconds=2))
    assert refused_for_s(throttle) == 0


@pytest.mark.parametrize("step", [-YEAR, -HOUR, timedelta(0)], ids=["year", "hour", "none"])
def test_another_system_whose_clock_is_behind_waits_no_longer(engine: Engine, step: timedelta) -> None:
    """Failures of before a restart, or of another server, never lie in the future."""
    fail(Throttle(engine, now=Clock("system before")), OF_BOTH)
    clock = Clock()
    clock.set_by(step)
    throttle = Throttle(engine, now=clock)
    assert refused_for_s(throttle) == WINDOW.total_seconds()
    clock.pass_by(WINDOW + timedelta(seconds=1))
    assert refused_for_s(throttle) == 0


def test_ticks_that_went_back_do_not_lengthen_a_lockout(throttle: Throttle, clock: Clock) -> None:
    """A virtual machine that continues from a snapshot counts on from there."""
    fail(throttle, OF_BOTH)
    clock.now = replace(clock.now, ticks=10.0)
    assert refused_for_s(throttle) == WINDOW.total_seconds()
    clock.pass_by(WINDOW + timedelta(seconds=1))
    assert refused_for_s(throttle) == 0


def test_failures_are_not_kept_for_ever(throttle: Throttle, clock: Clock, engine: Engine) -> None:
    """The table holds the last quarter of an hour."""
    fail(throttle, OF_BOTH)
    clock.pass_by(WINDOW + timedelta(seconds=1))
    fail(throttle, 1)
    with reading(engine) as connection:
        assert len(connection.execute(select(FAILURES)).all()) == 1


def test_the_clock_of_the_system_goes_on() -> None:
    """Ticks pass as the clock does, and are counted by one system."""
    first, second = present(), present()
    assert first.boot == second.boot != ""
    assert 0 <= second.ticks - first.ticks < 60
    assert first.moment.tzinfo is UTC
