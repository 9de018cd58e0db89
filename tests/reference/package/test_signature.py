"""Keys and signatures."""

from __future__ import annotations

import json
import stat
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.reference.package.signature import (
    PublicKey,
    load_private_key,
    load_public_key,
    make_key,
    parsed_signature,
    signature_text,
)

if TYPE_CHECKING:
    from pathlib import Path

RFC_8032_PUBLIC = "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025"
RFC_8032_SIGNATURE = (
    "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
    "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"
)


def test_a_published_signature() -> None:
    """Test vector 3 of RFC 8032, section 7.1: the two-byte message af82 (from memory of the RFC)."""
    key = PublicKey(bytes.fromhex(RFC_8032_PUBLIC))
    signature = bytes.fromhex(RFC_8032_SIGNATURE)
    assert key.verifies(bytes.fromhex("af82"), signature)
    assert not key.verifies(bytes.fromhex("af83"), signature)
    assert not key.verifies(bytes.fromhex("af82"), signature[:-1])


def test_a_new_key_signs_and_its_private_half_is_private(tmp_path: Path) -> None:
    """The public file verifies what the private one signs; only the owner can read the latter."""
    public = make_key(tmp_path / "lab.key")
    assert load_public_key(tmp_path / "lab.key.pub") == public
    signed = load_private_key(tmp_path / "lab.key").sign(b"list")
    assert public.verifies(b"list", signed)
    assert stat.S_IMODE((tmp_path / "lab.key").stat().st_mode) == 0o600
    assert len(public.fingerprint.replace(" ", "")) == 32


def test_a_key_is_never_replaced(tmp_path: Path) -> None:
    """Neither of its two files."""
    make_key(tmp_path / "lab.key")
    with pytest.raises(FormatError, match="a key is never replaced"):
        make_key(tmp_path / "lab.key")
    (tmp_path / "lab.key").unlink()
    with pytest.raises(FormatError, match=r"lab\.key\.pub: this already exists"):
        make_key(tmp_path / "lab.key")


def test_what_is_no_key(tmp_path: Path) -> None:
    """Text, the other half, a missing file, a folder that does not exist."""
    make_key(tmp_path / "lab.key")
    (tmp_path / "text").write_text("hello", encoding="utf-8")
    for path in (tmp_path / "text", tmp_path / "lab.key.pub"):
        with pytest.raises(FormatError, match="not an unencrypted Ed25519 private key"):
            load_private_key(path)
    for path in (tmp_path / "text", tmp_path / "lab.key"):
        with pytest.raises(FormatError, match="not an Ed25519 public key"):
            load_public_key(path)
    with pytest.raises(FormatError, match="there is no such file"):
        load_public_key(tmp_path / "absent")
    with pytest.raises(FormatError, match="this cannot be written"):
        make_key(tmp_path / "absent" / "lab.key")


def test_the_signature_file_is_read_to_the_byte(tmp_path: Path) -> None:
    """Another order, another algorithm, a space more: refused."""
    make_key(tmp_path / "lab.key")
    text = signature_text(load_private_key(tmp_path / "lab.key"), b"list", signs="list.txt")
    key, signature, signs = parsed_signature(text.encode(), where="bag")
    assert key.verifies(b"list", signature)
    assert signs == "list.txt"
    content = json.loads(text)
    for spoilt in (
        text + " ",
        json.dumps(dict(reversed(content.items())), indent=2) + "\n",
        json.dumps({**content, "algorithm": "none"}, indent=2) + "\n",
        json.dumps({**content, "signature": "AAAA"}, indent=2) + "\n",
        json.dumps([1]),
        "{",
    ):
        with pytest.raises(FormatError, match="the signature cannot be read"):
            parsed_signature(spoilt.encode(), where="bag")
