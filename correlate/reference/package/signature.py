"""The signature of a package (Ed25519, RFC 8032, through the library ``cryptography``).

One thing is signed: a statement that holds the SHA-512 of the tag manifest, which holds the hashes of all
lists and through them of all files, together with the moment and the details of the key. The moment is what
the signer states; nobody else confirms it.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import FormatError, SettingsError
from correlate.extras import need_extra
from correlate.plain_files import json_content

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SIGNATURE_FILE: Final = "signature.json"
"""File of a bag that holds its signature; it is listed nowhere, because it signs the list."""
ALGORITHM: Final = "Ed25519"
FORMAT: Final = 2
"""Of the signature file."""
LONGEST_WORDS: Final = 200
"""Characters of a name or an organisation."""
_PREFIX: Final = b"correlate package signature\n"
"""Start of every signed statement, so that no other document can be mistaken for one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicKey:
    """A public key, and the stated holder of the private key.

    Attributes
    ----------
    raw
        32 bytes.
    name, organisation
        Of the holder.
    valid_from, valid_until
        First and last day on which the key may be used.
    """

    raw: bytes
    name: str
    organisation: str
    valid_from: date
    valid_until: date

    @property
    def fingerprint(self) -> str:
        """Short text to compare on the telephone: the first 16 bytes of the SHA-256, in groups of four."""
        digits = hashlib.sha256(self.raw).hexdigest()[:32]
        return " ".join(digits[start : start + 4] for start in range(0, 32, 4))

    @property
    def holder(self) -> str:
        """Name and organisation."""
        return f"{self.name} of {self.organisation}"

    def as_plain(self) -> dict[str, str]:
        """Return the details as they are signed."""
        return {
            "name": self.name,
            "organisation": self.organisation,
            "valid_from": self.valid_from.isoformat(),
            "valid_until": self.valid_until.isoformat(),
            "public_key": encoded(self.raw),
        }


def checked_key(
    raw: bytes, *, name: str, organisation: str, valid_from: date, valid_until: date
) -> PublicKey:
    """Return a key whose details can be shown.

    Raises
    ------
    SettingsError
        A name is empty, too long or cannot be printed, or the key ends before it begins.
    """
    for what, words in (("name", name), ("organisation", organisation)):
        if not words.strip() or len(words) > LONGEST_WORDS or not words.isprintable():
            raise SettingsError(
                f"the {what} of the holder is empty, too long or cannot be printed",
                remedy=f"use up to {LONGEST_WORDS} characters on one line",
            )
    if valid_until < valid_from:
        raise SettingsError("the last day of the key is before its first day", remedy="correct the dates")
    return PublicKey(
        raw=raw,
        name=name.strip(),
        organisation=organisation.strip(),
        valid_from=valid_from,
        valid_until=valid_until,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A sound signature of a package.

    Attributes
    ----------
    key
        Which key, with the details that its holder states.
    signed_at
        Moment that the signer states; nobody else confirms it.
    """

    key: PublicKey
    signed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """Both halves of a key.

    Attributes
    ----------
    private
        The secret half.
    public
        The other half, with the details of the holder.
    """

    private: Ed25519PrivateKey
    public: PublicKey


def verifies(raw: bytes, message: bytes, signature: bytes) -> bool:
    """Say whether the signature of a message is by a public key of 32 bytes."""
    need_extra("share", what="a signature")
    from cryptography.exceptions import InvalidSignature  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey  # noqa: PLC0415

    try:
        Ed25519PublicKey.from_public_bytes(raw).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def signature_text(signer: Signer, manifest: bytes, *, signs: str, moment: datetime) -> str:
    """Return the signature of a tag manifest as the text of :data:`SIGNATURE_FILE`.

    Raises
    ------
    SettingsError
        The key is not valid on the day of the signature.
    """
    check_valid(signer.public, moment.astimezone(UTC).date())
    stated = _statement(signer.public, moment, signs=signs, sha512=hashlib.sha512(manifest).hexdigest())
    signature = signer.private.sign(_message(stated))
    return _text({**stated, "signature": encoded(signature)})


def check_valid(key: PublicKey, day: date) -> None:
    """Refuse to sign with a key that is not valid on a day.

    Raises
    ------
    SettingsError
        It is not.
    """
    if not key.valid_from <= day <= key.valid_until:
        raise SettingsError(
            f"the key is valid from {key.valid_from} until {key.valid_until}, not on {day}",
            remedy="create a new key with 'correlate key' and send its .pub file to the recipients",
        )


def checked_signature(data: bytes, manifest: bytes, *, signs: str, where: str) -> Signature:
    """Read the text of :data:`SIGNATURE_FILE` and compare it with the tag manifest.

    Raises
    ------
    FormatError
        It cannot be read to the byte, or does not match.
    """
    try:
        content: dict[str, Any] = json_content(data)
        key = checked_key(
            base64.b64decode(content["public_key"], validate=True),
            name=content["name"],
            organisation=content["organisation"],
            valid_from=date.fromisoformat(content["valid_from"]),
            valid_until=date.fromisoformat(content["valid_until"]),
        )
        moment = datetime.fromisoformat(content["signed_at"]).astimezone(UTC)
        signature = base64.b64decode(content["signature"], validate=True)
        stated = _statement(key, moment, signs=content["signs"], sha512=content["sha512"])
        whole = data == _text({**stated, "signature": encoded(signature)}).encode()
    except (ValueError, TypeError, KeyError, AttributeError, SettingsError, binascii.Error):
        whole = False
    if not whole:
        raise FormatError(
            "the signature cannot be read, or is of an earlier version",
            where=where,
            remedy="ask for the package again",
        )
    true = _statement(key, moment, signs=signs, sha512=hashlib.sha512(manifest).hexdigest())
    if stated != true or not verifies(key.raw, _message(stated), signature):
        raise FormatError(
            f"the signature does not match the {signs}",
            where=where,
            remedy="do not use this package; ask for it again",
        )
    return Signature(key=key, signed_at=moment)


def _statement(key: PublicKey, moment: datetime, *, signs: str, sha512: str) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "algorithm": ALGORITHM,
        "signs": signs,
        "sha512": sha512,
        "signed_at": moment.astimezone(UTC).isoformat(timespec="seconds"),
        **key.as_plain(),
    }


def _message(stated: dict[str, Any]) -> bytes:
    return _PREFIX + _text(stated).encode()


def _text(content: dict[str, Any]) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"


def encoded(data: bytes) -> str:
    """Return bytes as base64."""
    return base64.b64encode(data).decode("ascii")
