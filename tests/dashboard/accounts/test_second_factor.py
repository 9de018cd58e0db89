"""Second factors in the database: codes against the published ones, use only once, encrypted secrets."""

from __future__ import annotations

import base64
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select, update

from correlate import CorrelateError
from correlate.database import reading, writing
from dashboard.access import Role
from dashboard.accounts import AccountBook, SecondFactors
from dashboard.accounts.second_factor import matching_step, one_time_code
from dashboard.accounts.tables import ACCOUNTS, RECOVERY_CODES
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from tests.dashboard.clock import Clock

KEY = "a secret key of the tests, long enough"


@pytest.fixture
def factors(engine: Engine, clock: Clock) -> SecondFactors:
    """Return the second factors of a book with two accounts."""
    book = AccountBook(engine, passwords=CHEAP)
    book.add("lab", Role.LAB, PASSWORD)
    book.add("office", Role.MANAGER, PASSWORD)
    return SecondFactors(engine, KEY, now=clock)


def _code(secret: str, clock: Clock, steps: int = 0) -> str:
    """Return the code that an app shows, some steps away from now."""
    return one_time_code(base64.b32decode(secret), int(clock().timestamp()) // 30 + steps)


def _added(factors: SecondFactors, clock: Clock, name: str = "lab") -> tuple[str, list[str]]:
    sealed = factors.new_secret(name)
    secret = factors.shown(sealed, name)
    codes = factors.add(name, sealed, _code(secret, clock))
    assert len(codes) == 10
    return secret, codes


@pytest.mark.parametrize(
    ("seconds", "published"),
    [
        (59, "94287082"),
        (1111111109, "07081804"),
        (1111111111, "14050471"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
        (20000000000, "65353130"),
    ],
)
def test_codes_are_those_of_the_standard(seconds: int, published: str) -> None:
    """RFC 6238, appendix B, rows of SHA-1: eight digits, of which six digits are the last (RFC 4226, 5.3)."""
    assert one_time_code(b"12345678901234567890", seconds // 30) == published[-6:]


@pytest.mark.parametrize(("steps", "right"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)])
def test_one_step_is_tolerated(steps: int, right: bool) -> None:  # noqa: FBT001 - a parameter of the test
    """A clock may be wrong by thirty seconds, no more."""
    secret = b"12345678901234567890"
    code = one_time_code(secret, 1000 + steps)
    assert matching_step(secret, code, 1000 * 30 + 7) == (1000 + steps if right else None)


def test_a_code_counts_only_once(factors: SecondFactors, clock: Clock) -> None:
    """Nor does one of an earlier step, or the one that added the second factor."""
    secret, _ = _added(factors, clock)
    assert not factors.accepts("lab", _code(secret, clock))
    clock.forward(seconds=60)
    assert factors.accepts("lab", _code(secret, clock))
    assert not factors.accepts("lab", _code(secret, clock))
    assert not factors.accepts("lab", _code(secret, clock, -1))
    assert factors.accepts("lab", _code(secret, clock, 1))


def test_of_simultaneous_attempts_with_one_code_one_is_right(factors: SecondFactors, clock: Clock) -> None:
    """Two browsers that send the same code at once do not both get in; nor with a recovery code."""
    secret, codes = _added(factors, clock)
    clock.forward(seconds=60)
    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(lambda _: factors.accepts("lab", _code(secret, clock)), range(8)))
        recovered = list(threads.map(lambda _: factors.accepts_recovery("lab", codes[0]), range(8)))
    assert (answers.count(True), recovered.count(True)) == (1, 1)


def test_each_recovery_code_counts_once_and_for_its_account(factors: SecondFactors, clock: Clock) -> None:
    """Spaces, dashes and capitals do not matter."""
    _, codes = _added(factors, clock)
    assert len(set(codes)) == 10
    assert not factors.accepts_recovery("office", codes[0])
    assert factors.accepts_recovery("lab", codes[0].upper().replace("-", " "))
    assert not factors.accepts_recovery("lab", codes[0])
    assert not factors.accepts_recovery("lab", "")
    assert factors.recovery_left("lab") == 9


def test_the_database_holds_neither_secret_nor_recovery_code(
    factors: SecondFactors, clock: Clock, engine: Engine
) -> None:
    """The secret is encrypted, the codes are hashed."""
    secret, codes = _added(factors, clock)
    with reading(engine) as connection:
        sealed = connection.execute(select(ACCOUNTS.c.totp_secret).filter_by(name="lab")).scalar_one()
        hashes = connection.execute(select(RECOVERY_CODES.c.code_hash)).scalars().all()
    assert base64.b32decode(secret) not in base64.b64decode(sealed)
    assert secret not in sealed
    assert not set(hashes) & {code.replace("-", "") for code in codes}


def test_another_secret_key_is_said_and_recovery_codes_still_count(
    factors: SecondFactors, clock: Clock, engine: Engine
) -> None:
    """The sentence names the account and what to do."""
    secret, codes = _added(factors, clock)
    clock.forward(seconds=60)
    other = SecondFactors(engine, KEY + "!", now=clock)
    with pytest.raises(CorrelateError, match="correlate account second-factor lab --remove"):
        other.accepts("lab", _code(secret, clock))
    assert other.accepts_recovery("lab", codes[3])


def test_a_secret_cannot_be_moved_to_another_account(
    factors: SecondFactors, clock: Clock, engine: Engine
) -> None:
    """Somebody who may write in the database cannot give their own secret to another account."""
    secret, _ = _added(factors, clock)
    with writing(engine) as connection:
        own = connection.execute(select(ACCOUNTS.c.totp_secret).filter_by(name="lab")).scalar_one()
        connection.execute(update(ACCOUNTS).filter_by(name="office").values(totp_secret=own))
    clock.forward(seconds=60)
    with pytest.raises(CorrelateError, match="the second factor of 'office' cannot be decrypted"):
        factors.accepts("office", _code(secret, clock))


def test_nothing_is_added_with_a_wrong_code_or_twice(factors: SecondFactors, clock: Clock) -> None:
    """An account keeps the second factor that it has."""
    sealed = factors.new_secret("lab")
    assert factors.add("lab", sealed, "000000") == []
    assert not factors.accepts("lab", _code(factors.shown(sealed, "lab"), clock))
    secret, _ = _added(factors, clock)
    clock.forward(seconds=60)
    again = factors.new_secret("lab")
    assert factors.add("lab", again, _code(factors.shown(again, "lab"), clock)) == []
    assert factors.accepts("lab", _code(secret, clock))


def test_removing_takes_codes_and_sessions_along(
    factors: SecondFactors, clock: Clock, engine: Engine
) -> None:
    """The mark changes, so that a sign-in that waits for its second step begins again."""
    secret, codes = _added(factors, clock)
    book = AccountBook(engine, passwords=CHEAP)
    before = book.find("lab")
    assert before is not None
    assert before.has_second_factor
    assert factors.remove("lab")
    assert not factors.remove("lab")
    after = book.find("lab")
    assert after is not None
    assert not after.has_second_factor
    assert after.session_mark != before.session_mark
    clock.forward(seconds=60)
    assert not factors.accepts("lab", _code(secret, clock))
    assert not factors.accepts_recovery("lab", codes[0])
