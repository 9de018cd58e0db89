"""Passwords: their rules, and how they are stored."""

from __future__ import annotations

from functools import cached_property
from threading import BoundedSemaphore
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from correlate import CorrelateError

SHORTEST: Final = 15
"""Characters. NIST SP 800-63B-4 asks for 15 where nothing but the password is asked for (from memory)."""

LONGEST: Final = 256
"""Characters; hashing more would only keep the server busy."""

# Each hash takes a tenth of a second and 64 MiB; more at once would keep everybody else waiting.
_AT_ONCE: Final = BoundedSemaphore(2)


class Passwords:
    """Hashes passwords with Argon2id and compares them.

    Parameters
    ----------
    hasher
        With its costs; the library's, which are the second recommendation of RFC 9106, when left out.
    """

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher()

    def hashed(self, password: str, *, name: str) -> str:
        """Return the hash of a password that may be used.

        Parameters
        ----------
        password
            New.
        name
            Of its account.

        Returns
        -------
        str

        Raises
        ------
        CorrelateError
            It is too short, too long, or can be guessed from the name.
        """
        if not SHORTEST <= len(password) <= LONGEST:
            raise CorrelateError(
                f"the password has {len(password)} characters",
                remedy=f"use {SHORTEST} to {LONGEST}; several words in a row are easy to remember",
            )
        if len(set(password)) < SHORTEST // 3 or password.casefold().replace(name.casefold(), "") == "":
            raise CorrelateError(
                "the password is the name of the account or repeats a few characters",
                remedy="choose one that is hard to guess",
            )
        with _AT_ONCE:
            return self._hasher.hash(password)

    def match(self, kept: str | None, password: str) -> bool:
        """Say whether a password is the one of a hash.

        Parameters
        ----------
        kept
            Hash; None where there is no such account, which takes as long to find out.
        password
            As typed.

        Returns
        -------
        bool
        """
        with _AT_ONCE:
            try:
                self._hasher.verify(kept or self._hash_of_nobody, password[: LONGEST + 1])
            except (VerificationError, InvalidHashError):
                return False
        return kept is not None

    @cached_property
    def _hash_of_nobody(self) -> str:
        """Compared with where there is no such account, so that the answer takes as long."""
        return self._hasher.hash("nobody has this password")
