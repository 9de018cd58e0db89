"""The signature of a document: sound, changed, missing, damaged, of another key, not valid."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError, UntrustedError
from correlate.reference.package.document import (
    is_document,
    sign_document,
    signature_path,
    verify_document,
)
from correlate.reference.package.keys import load_signer
from correlate.reference.package.signature import signature_text
from correlate.reference.package.trust import Trust, trust_of_key
from tests.reference.package.key_files import PASSPHRASE, key_pair

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.reference.package.signature import PublicKey

CONTENT = b"%PDF a record"
MOMENT = datetime(2026, 3, 9, 12, 30, tzinfo=UTC)


@pytest.fixture
def key(tmp_path: Path) -> PublicKey:
    """Make the key of the laboratory."""
    return key_pair(tmp_path / "lab.key")


@pytest.fixture
def signed(tmp_path: Path, key: PublicKey) -> Path:
    """Write and sign a document."""
    path = tmp_path / "record.pdf"
    path.write_bytes(CONTENT)
    signer = load_signer(tmp_path / "lab.key", PASSPHRASE)
    assert signer.public == key
    assert sign_document(path, CONTENT, signer, moment=MOMENT) == signature_path(path)
    return path


def test_a_signed_document_names_its_signer(signed: Path, key: PublicKey, tmp_path: Path) -> None:
    """With the key it is trusted; without, the name is only what the signer states."""
    found = verify_document(signed)
    assert found.size == len(CONTENT)
    assert found.chain.signature is not None
    assert found.chain.signature.key == key
    assert found.chain.signature.signed_at == MOMENT
    assert f"{signed}: {len(CONTENT)} bytes, as signed" in found.words
    assert "no trusted keys are given" in found.words
    trusted = verify_document(signed, trust=trust_of_key(tmp_path / "lab.key.pub"))
    assert "the key is trusted, because it is in" in trusted.words


def test_a_document_may_be_renamed_with_its_signature(signed: Path, tmp_path: Path) -> None:
    """The content is signed, under whatever name."""
    moved = tmp_path / "thorax of March.pdf"
    signed.rename(moved)
    signature_path(signed).rename(signature_path(moved))
    assert verify_document(moved).chain.signature is not None


@pytest.mark.parametrize("changed", [b"%PDF a recorD", CONTENT + b"\n", b""])
def test_a_changed_document_is_refused(signed: Path, changed: bytes) -> None:
    """One letter, one byte more, nothing left."""
    signed.write_bytes(changed)
    with pytest.raises(
        FormatError, match=r"record\.pdf: the signature does not match the document: .* changed; do not"
    ):
        verify_document(signed)


def test_a_changed_signature_is_refused(signed: Path) -> None:
    """The moment, the holder, a byte: the signature covers them all; no JSON at all is refused as well."""
    beside = signature_path(signed)
    content = json.loads(beside.read_text(encoding="utf-8"))
    others = [
        {**content, "signed_at": "2026-03-10T12:30:00+00:00"},
        {**content, "name": "somebody else"},
        {**content, "sha512": "0" * 128},
    ]
    texts = [json.dumps(one, indent=2, ensure_ascii=False) + "\n" for one in others]
    for text in [*texts, "", "no signature\n", beside.read_text(encoding="utf-8") + "\n"]:
        beside.write_text(text, encoding="utf-8")
        with pytest.raises(FormatError, match="the document or its signature was changed"):
            verify_document(signed)


def test_a_signature_of_a_package_signs_no_document(signed: Path, tmp_path: Path) -> None:
    """The statement of a signature says of what it is."""
    signer = load_signer(tmp_path / "lab.key", PASSPHRASE)
    text = signature_text(signer, CONTENT, signs="tagmanifest-sha512.txt", moment=MOMENT)
    signature_path(signed).write_text(text, encoding="utf-8")
    with pytest.raises(FormatError, match="the signature does not match the document"):
        verify_document(signed)


def test_an_unsigned_document_is_said_to_be_so_and_refused_where_a_signature_is_required(
    signed: Path, tmp_path: Path
) -> None:
    """Without requirement it is only said; with one, or with a key, it is refused."""
    signature_path(signed).unlink()
    assert f"not signed: there is no {signed}.signature.json" in verify_document(signed).words
    for trust in (Trust(required=True), trust_of_key(tmp_path / "lab.key.pub")):
        with pytest.raises(UntrustedError, match=r"record\.pdf: it is not signed"):
            verify_document(signed, trust=trust)


def test_the_key_of_somebody_else_is_not_trusted(signed: Path, tmp_path: Path) -> None:
    """The signature is sound, and not that of the given key."""
    key_pair(tmp_path / "other.key", name="somebody else")
    with pytest.raises(UntrustedError, match="is not among the trusted keys"):
        verify_document(signed, trust=trust_of_key(tmp_path / "other.key.pub"))


def test_an_expired_key_signs_nothing(tmp_path: Path) -> None:
    """The key has to be valid on the day of the signature."""
    key_pair(tmp_path / "old.key", first=date(2020, 1, 1), last=date(2021, 1, 1))
    with pytest.raises(SettingsError, match="not on 2026-03-09"):
        sign_document(
            tmp_path / "record.pdf", CONTENT, load_signer(tmp_path / "old.key", PASSPHRASE), moment=MOMENT
        )
    assert not signature_path(tmp_path / "record.pdf").exists()


def test_documents_are_told_from_packages_by_their_ending(signed: Path, tmp_path: Path) -> None:
    """A folder that ends in .pdf is none, nor is a zip file."""
    (tmp_path / "bag.pdf").mkdir()
    (tmp_path / "bag.zip").write_bytes(b"PK")
    assert is_document(signed)
    assert not is_document(tmp_path / "bag.pdf")
    assert not is_document(tmp_path / "bag.zip")
    assert not is_document(tmp_path / "absent.pdf")
