"""Key files: a private key with a passphrase, and a public key with its holder and its dates.

The private file is PEM (PKCS 8, encrypted by the library ``cryptography``). The public file is a TOML table
of a format of this project, signed by its own key, so that nobody else changes holder or dates unseen.
"""

from __future__ import annotations

import base64
import binascii
import json
import os
from datetime import date  # noqa: TC003 - the table needs it when it is made
from typing import TYPE_CHECKING, Final, Literal

from correlate.errors import FormatError, SettingsError
from correlate.extras import need_extra
from correlate.files import opened, refuse_unprintable, unwritable, write_text
from correlate.reference.package.signature import PublicKey, Signer, checked_key, encoded, verifies
from correlate.toml import Table, read_toml, toml_entry

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SHORTEST_PASSPHRASE: Final = 12
"""Fewest characters of a passphrase; chosen here."""
PUBLIC: Final = ".pub"
"""What the name of a public key file ends in."""
_PREFIX: Final = b"correlate public key\n"
_MOST_KEY_BYTES: Final = 10_000
_HEAD: Final = "# Public key for packages. Compare the fingerprint with the holder through another channel."


class PublicKeyFile(Table):
    """A public key file.

    Attributes
    ----------
    format
        Version of this form.
    name, organisation
        Who holds the private key.
    valid_from, valid_until
        First and last day on which the key may be used.
    fingerprint
        Of the key.
    public_key, self_signature
        The key, and its own signature of the other keys of this file, in base64.
    """

    format: Literal[1]
    name: str
    organisation: str
    valid_from: date
    valid_until: date
    fingerprint: str
    public_key: str
    self_signature: str


def make_key(
    path: Path,
    *,
    name: str,
    organisation: str,
    valid_from: date,
    valid_until: date,
    passphrase: str,
) -> PublicKey:
    """Make a new key pair.

    Parameters
    ----------
    path
        Of the private key; the public one is beside it and ends in ``.pub``.
    name, organisation
        Who holds it.
    valid_from, valid_until
        First and last day on which it may be used.
    passphrase
        Encrypts the private key; empty for a file that is not encrypted.

    Raises
    ------
    FormatError
        A file exists already, or cannot be written.
    SettingsError
        The passphrase is too short, or the details cannot be used.
    """
    need_extra("share", what="a key")
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey  # noqa: PLC0415

    refuse_unprintable(path)
    if passphrase and len(passphrase) < SHORTEST_PASSPHRASE:
        raise SettingsError(
            f"the passphrase is shorter than {SHORTEST_PASSPHRASE} characters", remedy="use several words"
        )
    _refuse_existing(path)
    key = Ed25519PrivateKey.generate()
    public = checked_key(
        key.public_key().public_bytes_raw(),
        name=name,
        organisation=organisation,
        valid_from=valid_from,
        valid_until=valid_until,
    )
    encryption: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if passphrase:
        encryption = serialization.BestAvailableEncryption(passphrase.encode())
    private = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, encryption)
    _write_private(path, private)
    write_text(_public_path(path), _public_text(Signer(private=key, public=public)))
    return public


def _refuse_existing(path: Path) -> None:
    for target in (path, _public_path(path)):
        if target.exists():
            raise FormatError(
                "this file already exists, and a key is never replaced",
                where=str(target),
                remedy="choose another name",
            )


def is_encrypted(path: Path) -> bool:
    """Say whether a private key needs a passphrase."""
    return b"BEGIN ENCRYPTED PRIVATE KEY" in _key_bytes(path)


def load_signer(path: Path, passphrase: str = "") -> Signer:
    """Read a private key, and its holder from the public key file beside it.

    Raises
    ------
    FormatError
        It is no such key, the passphrase is wrong, or the public key file is missing or of another key.
    """
    need_extra("share", what="a key")
    private = _load_private(path, passphrase)
    public = load_public_key(_public_path(path))
    if public.raw != private.public_key().public_bytes_raw():
        raise FormatError(
            "this is not the public half of the private key",
            where=str(_public_path(path)),
            remedy=f"put the .pub file that was created with {path.name} beside it",
        )
    return Signer(private=private, public=public)


def load_public_key(path: Path) -> PublicKey:
    """Read a public key file.

    Raises
    ------
    FormatError
        It is none, is of an earlier version, or was changed.
    """
    raw_text = _key_bytes(path)
    if b"-----BEGIN" in raw_text:
        raise FormatError(
            "this is a PEM file, as earlier versions wrote, not a public key file with holder and dates",
            where=str(path),
            remedy="ask the sender to create a new key with 'correlate key' and to send its .pub file",
        )
    table = read_toml(path, PublicKeyFile, kind="the .pub file of the sender").table
    try:
        key = checked_key(
            base64.b64decode(table.public_key, validate=True),
            name=table.name,
            organisation=table.organisation,
            valid_from=table.valid_from,
            valid_until=table.valid_until,
        )
        signature = base64.b64decode(table.self_signature, validate=True)
    except SettingsError as error:
        raise error.located(str(path)) from error
    except (ValueError, binascii.Error) as error:
        raise FormatError("the key is not base64", where=str(path), remedy=_ASK) from error
    if key.fingerprint != table.fingerprint or not verifies(key.raw, _message(key), signature):
        raise FormatError(
            "the key file was changed: key, fingerprint, holder, dates and its own signature do not match",
            where=str(path),
            remedy=_ASK,
        )
    return key


_ASK: Final = "ask the sender for the .pub file again"


def _public_text(signer: Signer) -> str:
    key = signer.public
    content = {
        "format": 1,
        "name": key.name,
        "organisation": key.organisation,
        "valid_from": key.valid_from,
        "valid_until": key.valid_until,
        "fingerprint": key.fingerprint,
        "public_key": encoded(key.raw),
        "self_signature": encoded(signer.private.sign(_message(key))),
    }
    return toml_entry(_HEAD, content)


def _message(key: PublicKey) -> bytes:
    return _PREFIX + json.dumps(key.as_plain(), ensure_ascii=False).encode()


def _load_private(path: Path, passphrase: str) -> Ed25519PrivateKey:
    from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import load_pem_private_key  # noqa: PLC0415

    encrypted = is_encrypted(path)
    try:
        key = load_pem_private_key(_key_bytes(path), password=passphrase.encode() if encrypted else None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        what = "this is not an Ed25519 private key (PEM)"
        remedy = "create one with 'correlate key'"
        if encrypted:
            what, remedy = (
                "the passphrase is wrong, or the key is damaged",
                "enter the passphrase of this key",
            )
        raise FormatError(what, where=str(path), remedy=remedy)
    return key


def _public_path(path: Path) -> Path:
    return path.with_name(path.name + PUBLIC)


def _key_bytes(path: Path) -> bytes:
    with opened(path) as stream:
        return stream.read(_MOST_KEY_BYTES)


def _write_private(path: Path, content: bytes) -> None:
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise unwritable(path, error) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        # A part of a key is of no use, and its name would be taken.
        path.unlink(missing_ok=True)
        raise unwritable(path, error) from error
