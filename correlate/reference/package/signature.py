"""Ed25519 keys and signatures (RFC 8032), through the library ``cryptography``."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import FormatError
from correlate.extras import need_extra
from correlate.files import opened, refuse_unprintable, write_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SIGNATURE_FILE: Final = "signature.json"
"""File of a bag that holds its signature; it is listed nowhere, because it signs the list."""
ALGORITHM: Final = "Ed25519"
_MOST_KEY_BYTES: Final = 10_000


@dataclass(frozen=True, slots=True)
class PublicKey:
    """The public half of a key.

    Attributes
    ----------
    raw
        32 bytes.
    """

    raw: bytes

    @property
    def fingerprint(self) -> str:
        """Short text to compare on the telephone: the first 16 bytes of the SHA-256, in groups of four."""
        digits = hashlib.sha256(self.raw).hexdigest()[:32]
        return " ".join(digits[start : start + 4] for start in range(0, 32, 4))

    def verifies(self, message: bytes, signature: bytes) -> bool:
        """Say whether the signature of a message is by this key."""
        need_extra("share", what="a signature")
        from cryptography.exceptions import InvalidSignature  # noqa: PLC0415 - only where needed
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey  # noqa: PLC0415

        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True


def make_key(path: Path) -> PublicKey:
    """Make a new key pair."""
    need_extra("share", what="a key")
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey  # noqa: PLC0415

    refuse_unprintable(path)
    public_path = path.with_name(path.name + ".pub")
    for target in (path, public_path):
        if target.exists():
            raise FormatError(
                "this already exists, and a key is never replaced",
                where=str(target),
                remedy="choose another name",
            )
    key = Ed25519PrivateKey.generate()
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    public = key.public_key().public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    _write_private(path, private)
    write_bytes(public_path, public)
    return _public(key)


def load_private_key(path: Path) -> Ed25519PrivateKey:
    """Read a private key."""
    need_extra("share", what="a key")
    from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import load_pem_private_key  # noqa: PLC0415

    try:
        key = load_pem_private_key(_key_bytes(path), password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        raise FormatError(
            "this is not an unencrypted Ed25519 private key (PEM)",
            where=str(path),
            remedy="make one with 'correlate key'",
        )
    return key


def load_public_key(path: Path) -> PublicKey:
    """Read a public key."""
    need_extra("share", what="a key")
    from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415 - only where needed
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import load_pem_public_key  # noqa: PLC0415

    try:
        key = load_pem_public_key(_key_bytes(path))
    except (ValueError, TypeError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PublicKey):
        raise FormatError(
            "this is not an Ed25519 public key (PEM)",
            where=str(path),
            remedy="ask the sender for the .pub file",
        )
    return PublicKey(key.public_bytes_raw())


def signature_text(key: Ed25519PrivateKey, message: bytes, *, signs: str) -> str:
    """Return the signature of a file as the text of :data:`SIGNATURE_FILE`."""
    return (
        json.dumps(
            {
                "algorithm": ALGORITHM,
                "signs": signs,
                "public_key": base64.b64encode(_public(key).raw).decode("ascii"),
                "signature": base64.b64encode(key.sign(message)).decode("ascii"),
            },
            indent=2,
        )
        + "\n"
    )


def parsed_signature(data: bytes, *, where: str) -> tuple[PublicKey, bytes, str]:
    """Read the text of :data:`SIGNATURE_FILE`."""
    try:
        content: dict[str, Any] = json.loads(data)
        key = PublicKey(base64.b64decode(content["public_key"], validate=True))
        signature = base64.b64decode(content["signature"], validate=True)
        signs = str(content["signs"])
        whole = content["algorithm"] == ALGORITHM and len(key.raw) == 32 and len(signature) == 64
        again = {
            "algorithm": ALGORITHM,
            "signs": signs,
            "public_key": base64.b64encode(key.raw).decode("ascii"),
            "signature": base64.b64encode(signature).decode("ascii"),
        }
        whole = whole and data == (json.dumps(again, indent=2) + "\n").encode()
    except (ValueError, TypeError, KeyError, binascii.Error):
        whole = False
    if not whole:
        raise FormatError("the signature cannot be read", where=where, remedy="ask for the package again")
    return key, signature, signs


def _public(key: Ed25519PrivateKey) -> PublicKey:
    return PublicKey(key.public_key().public_bytes_raw())


def _key_bytes(path: Path) -> bytes:
    with opened(path) as stream:
        return stream.read(_MOST_KEY_BYTES)


def _write_private(path: Path, content: bytes) -> None:
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise FormatError(
            f"this cannot be written ({error.strerror})",
            where=str(path),
            remedy="choose a folder you may write to",
        ) from error
    with os.fdopen(handle, "wb") as stream:
        stream.write(content)
