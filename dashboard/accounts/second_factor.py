"""The second factor of an account: time-based one-time passwords (RFC 6238) and recovery codes."""

from __future__ import annotations

import base64
import binascii
import hmac
import re
import secrets
from datetime import UTC, datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA1, SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from sqlalchemy import delete, func, insert, or_, select, update

from correlate import CorrelateError
from correlate.database import reading, writing
from dashboard.accounts.book import end_all_sessions, new_mark
from dashboard.accounts.tables import ACCOUNTS, RECOVERY_CODES, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import Connection, Engine

STEP_S: Final = 30
"""Duration of a code."""

DIGITS: Final = 6

TOLERANCE: Final = 1
"""Steps before and after the present one that are accepted, for clocks that are not exact (RFC 6238, 5.2)."""

RECOVERY: Final = 10
"""Recovery codes of an account."""

_SECRET_BYTES: Final = 20
"""As RFC 4226 recommends for SHA-1, the algorithm that every app for codes has."""

_RECOVERY_BYTES: Final = 10
"""80 random bits: so many that a fast hash of it tells nothing."""

_NONCE_BYTES: Final = 12


class SecondFactors:
    """Adds, checks and removes the second factors of accounts.

    Parameters
    ----------
    engine
        Of the accounts database.
    secret_key
        Of the server. The secrets are encrypted with a key derived from it: a copy of the database alone
        produces no codes.
    now
        Clock.
    """

    def __init__(
        self,
        engine: Engine,
        secret_key: str,
        *,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._engine = engine
        derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"correlate: second factor")
        self._cipher = AESGCM(derived.derive(secret_key.encode()))
        self._now = now

    def new_secret(self, name: str) -> str:
        """Return a new secret for an account, encrypted; it counts once a code of it was given."""
        return self._sealed(secrets.token_bytes(_SECRET_BYTES), name)

    def shown(self, sealed: str, name: str) -> str:
        """Return a secret as people type it into an app."""
        return base64.b32encode(self._opened(sealed, name)).decode()

    def add(self, name: str, sealed: str, code: str) -> list[str]:
        """Give an account a second factor whose first code is right, and return its recovery codes.

        Its sessions end. If the code is wrong, or the account has a second factor
        already, nothing changes and no codes are returned.
        """
        step = matching_step(self._opened(sealed, name), code, self._now().timestamp())
        if step is None:
            return []
        codes = [_recovery_code() for _ in range(RECOVERY)]
        values = {"totp_secret": sealed, "totp_last_step": step, "session_mark": new_mark()}
        without = (ACCOUNTS.c.name == name, ACCOUNTS.c.totp_secret.is_(None))
        with writing(self._engine) as connection:
            if connection.execute(update(ACCOUNTS).where(*without).values(values)).rowcount != 1:
                return []
            end_all_sessions(connection, name, "second factor added", self._now())
            _forget_codes(connection, name)
            rows = [{"account": name, "code_hash": _code_hash(name, code)} for code in codes]
            connection.execute(insert(RECOVERY_CODES), rows)
        return codes

    def accepts(self, name: str, code: str) -> bool:
        """Say whether a code is right; it is right only once."""
        with reading(self._engine) as connection:
            sealed = connection.execute(select(ACCOUNTS.c.totp_secret).filter_by(name=name)).scalar()
        if sealed is None:
            return False
        step = matching_step(self._opened(sealed, name), code, self._now().timestamp())
        if step is None:
            return False
        # The condition is part of the change: of two requests with the same code, one is accepted.
        unused = or_(ACCOUNTS.c.totp_last_step.is_(None), ACCOUNTS.c.totp_last_step < step)
        used = update(ACCOUNTS).where(ACCOUNTS.c.name == name, ACCOUNTS.c.totp_secret == sealed, unused)
        with writing(self._engine) as connection:
            return connection.execute(used.values(totp_last_step=step)).rowcount == 1

    def accepts_recovery(self, name: str, code: str) -> bool:
        """Say whether a code is an unused recovery code; it is used now."""
        own = {"account": name, "code_hash": _code_hash(name, code)}
        used = update(RECOVERY_CODES).filter_by(**own).where(RECOVERY_CODES.c.used.is_(None))
        with writing(self._engine) as connection:
            return connection.execute(used.values(used=moment_text(self._now()))).rowcount == 1

    def recovery_left(self, name: str) -> int:
        """Return how many recovery codes of an account are unused."""
        unused = select(func.count()).select_from(RECOVERY_CODES).filter_by(account=name, used=None)
        with reading(self._engine) as connection:
            return int(connection.execute(unused).scalar_one())

    def remove(self, name: str) -> bool:
        """Remove the second factor of an account; say whether it had one."""
        return remove_second_factor(self._engine, name, now=self._now())

    def _sealed(self, secret: bytes, name: str) -> str:
        nonce = secrets.token_bytes(_NONCE_BYTES)
        # The name is part of it: the secret of one account cannot be copied to another.
        return base64.b64encode(nonce + self._cipher.encrypt(nonce, secret, name.encode())).decode()

    def _opened(self, sealed: str, name: str) -> bytes:
        try:
            raw = base64.b64decode(sealed, validate=True)
            return self._cipher.decrypt(raw[:_NONCE_BYTES], raw[_NONCE_BYTES:], name.encode())
        except (InvalidTag, ValueError, binascii.Error) as error:
            raise CorrelateError(
                f"the second factor of '{name}' cannot be decrypted with the present secret key",
                remedy=f"restore that key, or run: correlate account second-factor {name} --remove",
            ) from error


def remove_second_factor(engine: Engine, name: str, *, now: datetime) -> bool:
    """Remove the second factor of an account and end its sessions; say whether it had one."""
    present = update(ACCOUNTS).where(ACCOUNTS.c.name == name, ACCOUNTS.c.totp_secret.is_not(None))
    values = {"totp_secret": None, "totp_last_step": None, "session_mark": new_mark()}
    with writing(engine) as connection:
        if connection.execute(present.values(values)).rowcount != 1:
            return False
        _forget_codes(connection, name)
        end_all_sessions(connection, name, "second factor removed", now)
    return True


def one_time_code(secret: bytes, step: int) -> str:
    """Return the code of a step of 30 s since 1970 (RFC 6238 with SHA-1 and six digits).

    Examples
    --------
    >>> one_time_code(b"12345678901234567890", 59 // 30)  # RFC 6238, appendix B: 94287082
    '287082'
    """
    # Our secrets have 20 bytes; examples of the RFC have other lengths.
    codes = TOTP(secret, DIGITS, SHA1(), STEP_S, enforce_key_length=False)  # noqa: S303 - as the RFC says
    return codes.generate(step * STEP_S).decode()


def matching_step(secret: bytes, code: str, seconds: float) -> int | None:
    """Return the step of a code that counts at a moment, None if it is wrong."""
    given, present = re.sub(r"\s", "", code).encode(), int(seconds // STEP_S)
    steps = range(present - TOLERANCE, present + TOLERANCE + 1)
    # All are compared, so that the time tells nothing.
    found = [step for step in steps if hmac.compare_digest(one_time_code(secret, step).encode(), given)]
    return max(found, default=None)


def looks_like_code(text: str) -> bool:
    """Say whether a text is a code of an app rather than a recovery code.

    Examples
    --------
    >>> looks_like_code("287 082"), looks_like_code("abcd-efgh-2345-6723")
    (True, False)
    """
    return re.fullmatch(rf"\d{{{DIGITS}}}", re.sub(r"\s", "", text)) is not None


def otpauth(secret: str, name: str, server: str) -> str:
    """Return the address that apps for codes read.

    Examples
    --------
    >>> otpauth("JBSWY3DPEHPK3PXP", "lab", "ratings.example")
    'otpauth://totp/ratings.example:lab?secret=JBSWY3DPEHPK3PXP&issuer=ratings.example'
    """
    return f"otpauth://totp/{quote(server)}:{quote(name)}?secret={secret}&issuer={quote(server)}"


def _recovery_code() -> str:
    text = base64.b32encode(secrets.token_bytes(_RECOVERY_BYTES)).decode().lower()
    return "-".join(text[at : at + 4] for at in range(0, len(text), 4))


def _code_hash(name: str, code: str) -> str:
    plain = re.sub(r"[\s-]", "", code).lower()
    return sha256(f"{name}\0{plain}".encode()).hexdigest()


def _forget_codes(connection: Connection, name: str) -> None:
    connection.execute(delete(RECOVERY_CODES).filter_by(account=name))
