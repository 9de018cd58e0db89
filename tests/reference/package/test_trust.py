"""Whose signature is accepted: trusted, unknown, expired and revoked keys, in plain words."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, UntrustedError
from correlate.reference.package.trust import NOBODY, Trust, trust_in, trust_of_key, trust_of_project
from correlate.reference.package.verify import unpack, verify
from tests.reference.package.key_files import key_pair, sign_again

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.reference.package.signature import PublicKey

TODAY = date(2026, 11, 30)


@pytest.fixture
def signed(bag: Path, tmp_path: Path) -> Path:
    """Return a bag that was signed on a known day, and a folder of trusted keys with its key."""
    key_pair(tmp_path / "lab.key", last=date(2027, 6, 30))
    sign_again(bag, tmp_path / "lab.key", date(2026, 11, 20))
    (tmp_path / "trusted").mkdir()
    shutil.copy(tmp_path / "lab.key.pub", tmp_path / "trusted")
    return bag


def key_of(bag: Path) -> PublicKey:
    """Return the key that a bag is signed with."""
    key = verify(bag).signed_by
    assert key is not None
    return key


def revoke(folder: Path, key: PublicKey, day: str) -> None:
    """Write the list of revoked keys."""
    (folder / "revoked.toml").write_text(
        f'[[revoked]]\nfingerprint = "{key.fingerprint}"\ndate = {day}\nreason = "laptop lost"\n',
        encoding="utf-8",
    )


def test_a_trusted_key_in_plain_words(signed: Path, tmp_path: Path) -> None:
    """Who, for whom, when, with which key, why it is trusted, until when, and that it is not revoked."""
    chain = trust_in(tmp_path / "trusted", shown="trusted").chain(verify(signed).chain.signature, TODAY)
    assert chain.objection == ""
    assert chain.words == (
        "signed by test engineer of Kelpwick Impact Laboratory on 2026-11-20 (a date that only the signer "
        f"states) with key {key_of(signed).fingerprint}; the key is trusted, because it is in "
        "trusted/lab.key.pub; valid from 2020-01-01 until 2027-06-30; not revoked"
    )


def test_nobody_is_trusted_unless_named(signed: Path) -> None:
    """Without trusted keys the name is what the signer says; nothing is required."""
    chain = verify(signed).chain
    assert chain.objection == ""
    assert "no trusted keys are given, so the name is only what the signer states" in chain.words
    assert "revoked" not in chain.words


def test_an_unsigned_package_is_refused_where_a_signature_is_required(bag: Path, tmp_path: Path) -> None:
    """Accepted without a wish; refused with a trusted key or with the wish alone; nothing is unpacked."""
    (bag / "signature.json").unlink()
    assert verify(bag).chain.words.startswith("not signed: nothing shows who made the package")
    key_pair(tmp_path / "lab.key")
    for trust in (Trust(required=True), trust_of_key(tmp_path / "lab.key.pub")):
        with pytest.raises(
            UntrustedError, match=r"it is not signed; ask the sender to sign it with a valid key$"
        ):
            verify(bag, trust=trust)
        with pytest.raises(UntrustedError, match="it is not signed"):
            unpack(bag, tmp_path / "out", trust=trust)
    assert not (tmp_path / "out").exists()


def test_any_signature_meets_the_wish_for_one(signed: Path) -> None:
    """Where no trusted key is named, any signer is accepted, and the words say that this proves little."""
    assert "no trusted keys are given" in verify(signed, trust=Trust(required=True)).chain.words


def test_an_unknown_key_is_refused(signed: Path, tmp_path: Path) -> None:
    """The fingerprint is in the message; the words say why the key is not trusted."""
    (tmp_path / "trusted" / "lab.key.pub").unlink()
    trust = trust_in(tmp_path / "trusted", shown="trusted")
    mark = key_of(signed).fingerprint
    with pytest.raises(
        UntrustedError, match=f"its key {mark} is not among the trusted keys of trusted; ask .* key, or add"
    ):
        verify(signed, trust=trust)
    assert (
        "the key is not trusted, because it is not in trusted"
        in trust.chain(verify(signed).chain.signature).words
    )


@pytest.mark.parametrize(("day", "when"), [("2026-11-25", "before"), ("2026-11-20", "on or after")])
def test_a_revoked_key_is_refused(signed: Path, tmp_path: Path, day: str, when: str) -> None:
    """Whether the package says that it was signed before or after is shown, and does not help."""
    revoke(tmp_path / "trusted", key_of(signed), day)
    trust = trust_in(tmp_path / "trusted")
    with pytest.raises(UntrustedError, match=rf"was revoked on {day} \(laptop lost\); ask .* valid key$"):
        verify(signed, trust=trust)
    words = trust.chain(verify(signed).chain.signature, TODAY).words
    assert "the key is not trusted, because it is in the list of revoked keys" in words
    assert f"revoked on {day} (laptop lost)" in words
    assert f"by its own statement it was signed {when} that day, which nothing confirms" in words


def test_a_revoked_key_alone_is_refused_too(signed: Path, tmp_path: Path) -> None:
    """The list also holds for keys that nobody put into the folder."""
    (tmp_path / "trusted" / "lab.key.pub").unlink()
    revoke(tmp_path / "trusted", key_of(signed), "2026-11-25")
    with pytest.raises(UntrustedError, match="was revoked on 2026-11-25"):
        verify(signed, trust=trust_in(tmp_path / "trusted"))


def test_an_expired_key_is_not_accepted(signed: Path, tmp_path: Path) -> None:
    """On its last day it is, on the next it is not; nor is a package dated outside the days of its key."""
    trust, signature = trust_in(tmp_path / "trusted"), verify(signed).chain.signature
    assert trust.chain(signature, date(2027, 6, 30)).objection == ""
    late = trust.chain(signature, date(2027, 7, 1))
    assert late.objection.endswith("expired after 2027-06-30")
    assert "lab.key.pub, but the signature is not accepted; valid from" in late.words
    assert "valid from 2020-01-01 until 2027-06-30, expired" in late.words
    assert NOBODY.chain(signature, date(2027, 7, 1)).objection.endswith("expired after 2027-06-30")
    assert signature is not None
    early = replace(signature, signed_at=signature.signed_at.replace(year=2019))
    assert "it states to be signed on 2019-11-20" in trust.chain(early, TODAY).objection


def test_the_trusted_file_says_who_the_holder_is(signed: Path) -> None:
    """Where the package names another holder, both are shown; of two files the longer validity counts."""
    signature = verify(signed).chain.signature
    assert signature is not None
    mine = signature.key
    renewed = replace(mine, name="head of testing", valid_until=date(2030, 1, 1))
    trust = Trust(keys=(("old.pub", mine), ("new.pub", renewed)), source="trusted")
    chain = trust.chain(signature, date(2028, 1, 1))
    assert chain.objection == ""
    assert "signed by head of testing of Kelpwick" in chain.words
    assert "the package itself names the holder test engineer of Kelpwick Impact Laboratory" in chain.words
    assert "because it is in new.pub" in chain.words


def test_a_folder_that_cannot_be_used(tmp_path: Path) -> None:
    """Missing; with a file that is no key; with a list of revoked keys that is wrong, each mistake named."""
    with pytest.raises(FormatError, match="there is no such folder of trusted keys; create it"):
        trust_in(tmp_path / "absent")
    assert trust_of_project(tmp_path) is NOBODY
    folder = tmp_path / "trusted_keys"
    folder.mkdir()
    assert trust_of_project(tmp_path).source == "trusted_keys"
    (folder / "revoked.toml").write_text('[[revoked]]\nfingerprint = "12"\nreason = ""\n', encoding="utf-8")
    with pytest.raises(
        FormatError, match=r"revoked\.toml: 3 mistakes: .*8 groups of 4 digits.* revoked\.reason"
    ):
        trust_in(folder)
    (folder / "revoked.toml").unlink()
    (folder / "text.pub").write_text("hello", encoding="utf-8")
    with pytest.raises(FormatError, match=r"text\.pub"):
        trust_in(folder)
