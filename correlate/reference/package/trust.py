"""Trusted keys, revoked keys, and whether the signature of a package is accepted with them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

from pydantic import Field, field_validator

from correlate.errors import FormatError, UntrustedError
from correlate.reference.package.keys import PUBLIC, load_public_key
from correlate.toml import Table, read_toml

if TYPE_CHECKING:
    from correlate.reference.package.signature import PublicKey, Signature

TRUSTED_KEYS: Final = "trusted_keys"
"""Folder of a project with the public keys of those whose packages it accepts."""
REVOKED: Final = "revoked.toml"
"""File in a folder of trusted keys that lists keys which are no longer valid."""


class RevokedKey(Table):
    """A key that is no longer valid.

    Attributes
    ----------
    fingerprint
        Fingerprint of the key, as in its .pub file.
    date
        Day of the revocation, such as ``2026-11-30``.
    reason
        Reason, such as a private key that was lost.
    """

    fingerprint: str
    date: date
    reason: Annotated[str, Field(min_length=1)]

    @field_validator("fingerprint")
    @classmethod
    def _is_whole(cls, words: str) -> str:
        if not re.fullmatch("[0-9a-f]{4}( [0-9a-f]{4}){7}", words):
            raise ValueError("a fingerprint has 8 groups of 4 digits; copy it from the .pub file")
        return words


class RevokedFile(Table):
    """The list of revoked keys.

    Attributes
    ----------
    revoked
        The keys.
    """

    revoked: tuple[RevokedKey, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """Whose signatures are accepted.

    Attributes
    ----------
    keys
        Trusted keys by the file that each stands in.
    revoked
        Keys that are not valid any more.
    source
        Folder or file of the keys as the user named it; empty if nobody named any.
    required
        Whether a package is refused that has no signature, or one that is not accepted.
    """

    keys: tuple[tuple[str, PublicKey], ...] = ()
    revoked: tuple[RevokedKey, ...] = ()
    source: str = ""
    required: bool = False

    def chain(self, signature: Signature | None, today: date | None = None) -> SigningChain:
        """Judge a signature on a day; None for today."""
        day = today or datetime.now(UTC).date()
        if signature is None:
            return SigningChain(signature=None, trust=self, today=day)
        own = signature.key
        same = [(file, key) for file, key in self.keys if key.raw == own.raw]
        file, key = max(same, key=lambda one: one[1].valid_until, default=("", own))
        revoked = next((one for one in self.revoked if one.fingerprint == own.fingerprint), None)
        return SigningChain(signature=signature, trust=self, today=day, file=file, key=key, revoked=revoked)


NOBODY: Final = Trust()
"""No trusted key is named: signatures are compared, but nobody is trusted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningChain:
    """From the signature of a package to the reason why its key is trusted, or why not.

    Attributes
    ----------
    signature
        None for a package that is not signed.
    trust
        What was looked for.
    today
        Day on which it was looked at.
    file
        Trusted key file that holds the key; empty where none does.
    key
        The key as the trusted file describes it, else as the signer does.
    revoked
        Entry of the key in the list of revoked keys.
    """

    signature: Signature | None
    trust: Trust
    today: date
    file: str = ""
    key: PublicKey | None = None
    revoked: RevokedKey | None = None

    @property
    def objection(self) -> str:
        """Why the package is not trusted, in one clause; empty where there is no objection."""
        if self.signature is None or self.key is None:
            return "it is not signed" if self.trust.required or self.trust.source else ""
        which = self.key.fingerprint
        if self.revoked is not None:
            return f"its key {which} was revoked on {self.revoked.date} ({self.revoked.reason})"
        if self.trust.source and not self.file:
            return f"its key {which} is not among the trusted keys of {self.trust.source}"
        if self.today > self.key.valid_until:
            return f"its key {which} expired after {self.key.valid_until}"
        signed = self.signature.signed_at.date()
        if not self.key.valid_from <= signed <= self.key.valid_until:
            return (
                f"it states to be signed on {signed}, and its key {which} is valid from "
                f"{self.key.valid_from} until {self.key.valid_until}"
            )
        return ""

    @property
    def words(self) -> str:
        """Who signed, when, with which key, and why that key is trusted or not, in plain words."""
        if self.signature is None or self.key is None:
            return "not signed: nothing shows who made the package, or that its lists were not replaced"
        own, signed = self.signature.key, self.signature.signed_at.date()
        stated = f"{signed} (a date that only the signer states)"
        parts = [f"signed by {self.key.holder} on {stated} with key {self.key.fingerprint}"]
        if own.holder != self.key.holder:
            parts.append(f"the package itself names the holder {own.holder}")
        expired = ", expired" if self.today > self.key.valid_until else ""
        parts += [self._reason, f"valid from {self.key.valid_from} until {self.key.valid_until}{expired}"]
        if self.revoked is not None:
            when = "before" if signed < self.revoked.date else "on or after"
            parts.append(f"revoked on {self.revoked.date} ({self.revoked.reason})")
            parts.append(f"by its own statement it was signed {when} that day, which nothing confirms")
        elif self.trust.source:
            parts.append("not revoked")
        return "; ".join(parts)

    @property
    def _reason(self) -> str:
        if self.revoked is not None:
            return "the key is not trusted, because it is in the list of revoked keys"
        if self.file and self.objection:
            return f"the key is in {self.file}, but the signature is not accepted"
        if self.file:
            return f"the key is trusted, because it is in {self.file}"
        if self.trust.source:
            return f"the key is not trusted, because it is not in {self.trust.source}"
        return (
            "no trusted keys are given, so the name is only what the signer states: compare the fingerprint"
        )

    def refuse(self, label: str) -> None:
        """Refuse a package without an accepted signature where one is required.

        Raises
        ------
        UntrustedError
            It has none.
        """
        if self.trust.required and self.objection:
            raise UntrustedError(self.objection, where=label, remedy=self._remedy)

    @property
    def _remedy(self) -> str:
        remedy = "ask the sender to sign it with a valid key"
        unknown = self.key is not None and self.revoked is None and not self.file
        return f"{remedy}, or {_TRUST_IT}" if unknown and self.trust.source else remedy


_TRUST_IT: Final = "add the .pub file to the trusted keys after comparing the fingerprint with its holder"


def trust_in(folder: str | Path, *, required: bool = True, shown: str = "") -> Trust:
    """Read the public keys of a folder, and its list of revoked keys.

    Parameters
    ----------
    folder
        With ``.pub`` files, and perhaps ``revoked.toml``.
    required
        Whether packages without an accepted signature are refused.
    shown
        How messages name the folder; empty for its path.

    Returns
    -------
    Trust

    Raises
    ------
    FormatError
        There is no such folder, or a file in it cannot be read.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise FormatError(
            "there is no such folder of trusted keys", where=str(folder), remedy="create it or check the path"
        )
    shown = shown or str(folder)
    files = sorted(folder.glob(f"*{PUBLIC}"))
    keys = tuple((f"{shown}/{path.name}", load_public_key(path)) for path in files)
    revoked = folder / REVOKED
    listed = read_toml(revoked, RevokedFile, kind="the list of revoked keys") if revoked.exists() else None
    return Trust(
        keys=keys,
        revoked=() if listed is None else listed.table.revoked,
        source=shown,
        required=required,
    )


def trust_of_key(path: str | Path) -> Trust:
    """Trust one public key alone, and require its signature."""
    return Trust(keys=((str(path), load_public_key(Path(path))),), source=str(path), required=True)


def trust_of_project(project: str | Path) -> Trust:
    """Return whose packages a project accepts: the folder ``trusted_keys`` in it, or nobody in particular."""
    folder = Path(project) / TRUSTED_KEYS
    return trust_in(folder, required=False, shown=TRUSTED_KEYS) if folder.is_dir() else NOBODY
