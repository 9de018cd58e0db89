"""Key files: a private half that only its holder can use, a public half that nobody else can change."""

from __future__ import annotations

import stat
from typing import TYPE_CHECKING

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    PublicFormat,
    load_pem_private_key,
)

from correlate.errors import FormatError, SettingsError
from correlate.reference.package.keys import is_encrypted, load_public_key, load_signer
from correlate.reference.package.signature import verifies
from tests.reference.package.key_files import FIRST, LAST, PASSPHRASE, key_pair

if TYPE_CHECKING:
    from pathlib import Path


def test_a_new_key_signs_and_its_private_half_is_private(tmp_path: Path) -> None:
    """The public file verifies what the private one signs; only the owner can read the latter, encrypted."""
    public = key_pair(tmp_path / "lab.key")
    assert load_public_key(tmp_path / "lab.key.pub") == public
    assert (public.name, public.valid_from, public.valid_until) == ("test engineer", FIRST, LAST)
    signed = load_signer(tmp_path / "lab.key", PASSPHRASE).private.sign(b"list")
    assert verifies(public.raw, b"list", signed)
    assert stat.S_IMODE((tmp_path / "lab.key").stat().st_mode) == 0o600
    assert len(public.fingerprint.replace(" ", "")) == 32
    assert f'fingerprint = "{public.fingerprint}"' in (tmp_path / "lab.key.pub").read_text(encoding="utf-8")


def test_the_private_half_needs_its_passphrase(tmp_path: Path) -> None:
    """The library opens it with the passphrase and not without; ours says what is wrong."""
    key_pair(tmp_path / "lab.key")
    content = (tmp_path / "lab.key").read_bytes()
    assert isinstance(load_pem_private_key(content, PASSPHRASE.encode()), Ed25519PrivateKey)
    with pytest.raises(TypeError):
        load_pem_private_key(content, None)
    assert is_encrypted(tmp_path / "lab.key")
    for wrong in ("", "drop tower, south wall"):
        with pytest.raises(FormatError, match=r"lab\.key: the passphrase is wrong, or the key is damaged"):
            load_signer(tmp_path / "lab.key", wrong)
    key_pair(tmp_path / "open.key", passphrase="")
    assert not is_encrypted(tmp_path / "open.key")
    assert load_signer(tmp_path / "open.key").public.name == "test engineer"
    with pytest.raises(SettingsError, match="shorter than 12 characters"):
        key_pair(tmp_path / "short.key", passphrase="drop tower")  # noqa: S106
    assert not (tmp_path / "short.key").exists()


def test_a_key_is_never_replaced(tmp_path: Path) -> None:
    """Neither of its two files."""
    key_pair(tmp_path / "lab.key")
    with pytest.raises(FormatError, match="a key is never replaced"):
        key_pair(tmp_path / "lab.key")
    (tmp_path / "lab.key").unlink()
    with pytest.raises(FormatError, match=r"lab\.key\.pub: this file already exists"):
        key_pair(tmp_path / "lab.key")


def test_what_is_no_key(tmp_path: Path) -> None:
    """Text, the other half, a missing file, a folder that does not exist."""
    key_pair(tmp_path / "lab.key")
    (tmp_path / "text").write_text("hello", encoding="utf-8")
    for path in (tmp_path / "text", tmp_path / "lab.key.pub"):
        with pytest.raises(FormatError, match="not an Ed25519 private key"):
            load_signer(path)
    with pytest.raises(FormatError, match="is not valid TOML"):
        load_public_key(tmp_path / "text")
    with pytest.raises(FormatError, match="there is no such file"):
        load_public_key(tmp_path / "absent")
    with pytest.raises(FormatError, match="this cannot be written"):
        key_pair(tmp_path / "absent" / "lab.key")


def test_a_key_of_an_earlier_version_is_named_as_such(tmp_path: Path) -> None:
    """A public key without holder and dates, in PEM."""
    key = Ed25519PrivateKey.generate().public_key()
    (tmp_path / "old.pub").write_bytes(key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    with pytest.raises(
        FormatError, match=r"old\.pub: .* a PEM file, as earlier versions wrote, .*; ask the sender"
    ):
        load_public_key(tmp_path / "old.pub")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("test engineer", "somebody else"),
        ("Kelpwick", "Tern Cove"),
        ("2099-12-31", "2100-12-31"),
        ("2020-01-01", "2019-01-01"),
    ],
)
def test_a_changed_public_key_file_is_refused(tmp_path: Path, old: str, new: str) -> None:
    """Holder and dates are signed by the key itself."""
    key_pair(tmp_path / "lab.key")
    path = tmp_path / "lab.key.pub"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(FormatError, match="the key file was changed"):
        load_public_key(path)


def test_another_key_under_the_same_holder_is_refused(tmp_path: Path) -> None:
    """Key, fingerprint and signature belong together; a new version and lines that are none are named."""
    key_pair(tmp_path / "lab.key")
    other = key_pair(tmp_path / "other.key")
    path, mine = tmp_path / "lab.key.pub", load_public_key(tmp_path / "lab.key.pub")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(mine.fingerprint, other.fingerprint), encoding="utf-8")
    with pytest.raises(FormatError, match="the key file was changed"):
        load_public_key(path)
    path.write_text(text.replace("format = 1", "format = 2"), encoding="utf-8")
    with pytest.raises(FormatError, match="line 2, format"):
        load_public_key(path)
    path.write_text(text.replace('public_key = "', 'public_key = "?'), encoding="utf-8")
    with pytest.raises(FormatError, match="the key is not base64"):
        load_public_key(path)
    path.write_bytes((tmp_path / "other.key.pub").read_bytes())
    with pytest.raises(FormatError, match="this is not the public half of the private key"):
        load_signer(tmp_path / "lab.key", PASSPHRASE)
