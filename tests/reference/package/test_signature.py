"""Signatures of a package, byte by byte."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError
from correlate.reference.package.keys import load_signer
from correlate.reference.package.signature import checked_key, checked_signature, signature_text, verifies
from tests.reference.package.key_files import FIRST, LAST, PASSPHRASE, key_pair

if TYPE_CHECKING:
    from pathlib import Path

RFC_8032_PUBLIC = "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025"
RFC_8032_SIGNATURE = (
    "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
    "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"
)
NOW = datetime(2026, 11, 30, 7, 15, tzinfo=UTC)


def test_a_published_signature() -> None:
    """Test vector 3 of RFC 8032, section 7.1: the two-byte message af82 (from memory of the RFC)."""
    raw, signature = bytes.fromhex(RFC_8032_PUBLIC), bytes.fromhex(RFC_8032_SIGNATURE)
    assert verifies(raw, bytes.fromhex("af82"), signature)
    assert not verifies(raw, bytes.fromhex("af83"), signature)
    assert not verifies(raw, bytes.fromhex("af82"), signature[:-1])


def test_a_signature_says_who_when_and_for_how_long(tmp_path: Path) -> None:
    """Everything that is stated comes back, and the list is the one that was signed."""
    public = key_pair(tmp_path / "lab.key")
    text = signature_text(load_signer(tmp_path / "lab.key", PASSPHRASE), b"list", signs="l.txt", moment=NOW)
    found = checked_signature(text.encode(), b"list", signs="l.txt", where="bag")
    assert (found.key, found.signed_at) == (public, NOW)
    assert found.key.holder == "test engineer of Kelpwick Impact Laboratory"
    for manifest, signs in ((b"other", "l.txt"), (b"list", "k.txt")):
        with pytest.raises(FormatError, match=f"bag: the signature does not match the {signs}"):
            checked_signature(text.encode(), manifest, signs=signs, where="bag")


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("name", "somebody else"),
        ("organisation", "Tern Cove Analysis"),
        ("valid_until", "2100-01-01"),
        ("signed_at", "2026-11-29T07:15:00+00:00"),
    ],
)
def test_what_the_signer_states_is_signed_too(tmp_path: Path, key: str, value: str) -> None:
    """Another name, another date: the signature does not match any more."""
    key_pair(tmp_path / "lab.key")
    text = signature_text(load_signer(tmp_path / "lab.key", PASSPHRASE), b"list", signs="l.txt", moment=NOW)
    content = json.loads(text)
    assert content[key] != value
    spoilt = json.dumps({**content, key: value}, indent=2) + "\n"
    with pytest.raises(FormatError, match="the signature does not match"):
        checked_signature(spoilt.encode(), b"list", signs="l.txt", where="bag")


def test_the_signature_file_is_read_to_the_byte(tmp_path: Path) -> None:
    """Another order, another algorithm, a space more, the form of an earlier version: refused."""
    key_pair(tmp_path / "lab.key")
    text = signature_text(load_signer(tmp_path / "lab.key", PASSPHRASE), b"list", signs="l.txt", moment=NOW)
    content = json.loads(text)
    earlier = {key: content[key] for key in ("algorithm", "signs", "public_key", "signature")}
    for spoilt in (
        text + " ",
        json.dumps(dict(reversed(content.items())), indent=2) + "\n",
        json.dumps({**content, "algorithm": "none"}, indent=2) + "\n",
        json.dumps({**content, "name": 3}, indent=2) + "\n",
        json.dumps({**content, "name": "a\u202eb"}, indent=2, ensure_ascii=False) + "\n",
        json.dumps(earlier, indent=2) + "\n",
        json.dumps([1]),
        "{",
    ):
        with pytest.raises(FormatError, match="the signature cannot be read, or is of an earlier version"):
            checked_signature(spoilt.encode(), b"list", signs="l.txt", where="bag")


def test_nobody_signs_with_a_key_that_is_not_valid(tmp_path: Path) -> None:
    """Before its first and after its last day."""
    key_pair(tmp_path / "lab.key", first=date(2026, 12, 1))
    signer = load_signer(tmp_path / "lab.key", PASSPHRASE)
    with pytest.raises(SettingsError, match="valid from 2026-12-01 until 2099-12-31, not on 2026-11-30"):
        signature_text(signer, b"list", signs="l.txt", moment=NOW)


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "a\x1b[2J", "a\u202eb", "x" * 201])
def test_a_holder_can_be_shown(name: str) -> None:
    """A name that a terminal would obey, that turns the reading direction, or that says nothing: refused."""
    with pytest.raises(SettingsError, match="the name of the holder"):
        checked_key(bytes(32), name=name, organisation="lab", valid_from=FIRST, valid_until=LAST)
    with pytest.raises(SettingsError, match="the organisation of the holder"):
        checked_key(bytes(32), name="a", organisation=name, valid_from=FIRST, valid_until=LAST)
    with pytest.raises(SettingsError, match="the last day of the key is before its first day"):
        checked_key(bytes(32), name="a", organisation="lab", valid_from=LAST, valid_until=FIRST)
