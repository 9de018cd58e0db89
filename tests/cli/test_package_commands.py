"""``correlate key``, ``pack``, ``verify`` and ``unpack``: the way of data from one company to another."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from tests.reference.folders import CODE, write_pulse

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


HOLDER = ("--name", "test engineer", "--organisation", "Kelpwick Impact Laboratory")
PASSPHRASE = "drop tower, north wall"  # noqa: S105 - opens keys of this test run only


@pytest.fixture
def passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    """Set the passphrase for programs."""
    monkeypatch.setenv("CORRELATE_KEY_PASSPHRASE", PASSPHRASE)


@pytest.fixture
def laboratory(tmp_path: Path) -> Path:
    """Write three repeats of one load case."""
    for number in (1, 2, 3):
        write_pulse(tmp_path / "laboratory", f"T{number}", number)
    return tmp_path / "laboratory"


@pytest.mark.usefixtures("passphrase")
def test_from_the_laboratory_to_the_analyst(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """Key, package, verification with the key, unpacking: each says what it did."""
    words = tmp_path / "words.toml"
    words.write_text(
        'title = "Drops of March"\nlaboratory = "Kelpwick Impact Laboratory"\n', encoding="utf-8"
    )
    key, bag, out = tmp_path / "lab.key", tmp_path / "drops.zip", tmp_path / "out"
    made = correlate("key", key, *HOLDER)
    fingerprint = made.out.split("fingerprint")[1].strip()
    assert "encrypted with the passphrase" in made.out
    packed = correlate(
        "pack", laboratory, "--out", bag, "--checked-by", "lab", "--describe", words, "--sign", key
    )
    assert packed.code == 0, packed.err
    assert f"signed by: test engineer of Kelpwick Impact Laboratory, {fingerprint}" in packed.out
    assert "3 tests, 3 channels: 0 errors" in packed.out
    seen = correlate("verify", bag)
    assert f"with key {fingerprint}; no trusted keys are given" in seen.out
    assert "external description: Drops of March" in seen.out
    unpacked = correlate("unpack", bag, "--into", out, "--key", f"{key}.pub")
    assert f"with key {fingerprint}; the key is trusted, because it is in {key}.pub" in unpacked.out
    found = json.loads(correlate("verify", out, "--json").out)
    assert found["signed_by"] == fingerprint
    assert found["info"]["Source-Organization"] == ["Kelpwick Impact Laboratory"]
    assert correlate("check", out / "data" / "tests").code == 0
    report = json.loads((out / "data" / "check.json").read_text(encoding="utf-8"))
    assert report["counts"] == {"error": 0, "warning": 0, "note": 0}
    assert (out / "data" / "check.html").read_text(encoding="utf-8").rstrip().endswith("</html>")


def test_an_unsigned_package_says_so(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """It can be verified, but nobody vouches for the lists."""
    bag = tmp_path / "bag"
    assert correlate("pack", laboratory, "--out", bag, "--checked-by", "lab").code == 0
    assert "not signed: nothing shows who made the package" in correlate("verify", bag).out
    assert json.loads(correlate("verify", bag, "--json").out)["signed_by"] is None


def test_a_changed_byte_is_refused_in_one_sentence(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """The file is named, the code is 2, nothing is unpacked."""
    bag = tmp_path / "bag"
    correlate("pack", laboratory, "--out", bag, "--checked-by", "lab")
    channel = bag / "data" / "tests" / "drop" / "T2" / "Channel" / "T2.001"
    channel.write_bytes(channel.read_bytes().replace(b"21", b"12", 1))
    for arguments in (("verify", bag), ("unpack", bag, "--into", tmp_path / "out")):
        outcome = correlate(*arguments)
        assert outcome.code == 2
        assert outcome.out == ""
        assert "'data/tests/drop/T2/Channel/T2.001' was changed" in outcome.err
        assert len(outcome.err.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_the_campaign_shapes_the_corridors(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """Filter and interval come from the campaign file."""
    campaign = tmp_path / "campaign.toml"
    campaign.write_text(
        f'[campaign]\ntitle = "d"\n[[load_case]]\nname = "drop"\ntests = ["laboratory/*"]\n'
        f'interval_ms = [0, 50]\n[[load_case.channel]]\ntest = "{CODE}"\nmodel = "a"\nregion = "head"\n'
        'cfc = 180\n[[release]]\nname = "A1"\nfolder = "A1"\n',
        encoding="utf-8",
    )
    bag = tmp_path / "bag"
    outcome = correlate("pack", laboratory, "--out", bag, "--checked-by", "lab", "--campaign", campaign)
    assert outcome.code == 0, outcome.err
    lines = (bag / "data" / "corridors" / "drop" / f"{CODE}.csv").read_text().splitlines()
    assert "# filter: CFC 180" in lines
    assert sum(not line.startswith("#") for line in lines) == 502


def test_refusals(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """A key that is none, a target that exists, a package that is none."""
    outcome = correlate(
        "pack", laboratory, "--out", tmp_path / "b", "--checked-by", "lab", "--sign", laboratory / "nokey"
    )
    assert (outcome.code, "there is no such file" in outcome.err) == (2, True)
    outcome = correlate("pack", laboratory, "--out", laboratory, "--checked-by", "lab")
    assert (outcome.code, "this already exists" in outcome.err) == (2, True)
    outcome = correlate("verify", laboratory)
    assert (outcome.code, "there is no bagit.txt" in outcome.err) == (2, True)


@pytest.mark.usefixtures("passphrase")
def test_an_unsigned_package_ends_with_1_where_a_signature_is_required(
    correlate: Run, laboratory: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the option, a key, a folder, or the folder of the user; one sentence, and nothing is unpacked."""
    bag, key = tmp_path / "bag", tmp_path / "keys" / "lab.key"
    key.parent.mkdir()
    correlate("key", key, *HOLDER)
    correlate("pack", laboratory, "--out", bag, "--checked-by", "lab")
    for options in (["--require-signature"], ["--key", f"{key}.pub"], ["--trusted", key.parent]):
        for words in (("verify", bag), ("unpack", bag, "--into", tmp_path / "out")):
            outcome = correlate(*words, *options)
            assert (outcome.code, outcome.out) == (1, "")
            assert "bag: it is not signed; ask the sender" in outcome.err
            assert len(outcome.err.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()
    monkeypatch.setenv("CORRELATE_TRUSTED_KEYS", str(key.parent))
    assert correlate("verify", bag).code == 1
    monkeypatch.setenv("CORRELATE_TRUSTED_KEYS", str(tmp_path / "absent"))
    assert (correlate("verify", bag).code, correlate("verify", bag, "--trusted", key.parent).code) == (2, 1)


@pytest.mark.usefixtures("passphrase")
def test_a_folder_of_trusted_keys(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """Accepted from it; refused once the key is revoked there, also when the key itself is given."""
    key, trusted, bag = tmp_path / "lab.key", tmp_path / "trusted", tmp_path / "bag.zip"
    made = correlate("key", key, *HOLDER, "--valid-until", "2099-12-31")
    mark = made.out.split("fingerprint")[1].strip()
    assert "test engineer of Kelpwick Impact Laboratory, valid from" in made.out
    correlate("pack", laboratory, "--out", bag, "--checked-by", "lab", "--sign", key)
    trusted.mkdir()
    assert (
        f"its key {mark} is not among the trusted keys of"
        in correlate("verify", bag, "--trusted", trusted).err
    )
    (trusted / "lab.pub").write_bytes((tmp_path / "lab.key.pub").read_bytes())
    accepted = correlate("verify", bag, "--trusted", trusted)
    assert (accepted.code, f"because it is in {trusted}/lab.pub" in accepted.out) == (0, True)
    assert "until 2099-12-31; not revoked" in accepted.out
    (trusted / "revoked.toml").write_text(
        f'revoked = [{{ fingerprint = "{mark}", date = 2026-11-30, reason = "laptop lost" }}]\n',
        encoding="utf-8",
    )
    for options in (["--trusted", trusted], ["--trusted", trusted, "--key", f"{key}.pub"]):
        revoked = correlate("verify", bag, *options)
        assert (revoked.code, "was revoked on 2026-11-30 (laptop lost)" in revoked.err) == (1, True)


def test_the_passphrase_is_asked_for_or_read(
    correlate: Run, laboratory: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twice for a new key, once to sign; from a file for programs; with nobody to ask, there is a remedy."""
    key, words = (
        tmp_path / "lab.key",
        ("pack", laboratory, "--checked-by", "lab", "--sign", tmp_path / "lab.key"),
    )
    monkeypatch.delenv("CORRELATE_KEY_PASSPHRASE", raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: False)
    outcome = correlate("key", key, *HOLDER)
    assert (outcome.code, "there is no terminal to ask for it; give --passphrase-file" in outcome.err) == (
        2,
        True,
    )
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    answers = [PASSPHRASE, "another long passphrase", "", PASSPHRASE, PASSPHRASE, PASSPHRASE, "wrong"]
    monkeypatch.setattr("correlate.cli.keys.getpass", lambda _: answers.pop(0))
    assert "the two passphrases differ" in correlate("key", key, *HOLDER).err
    assert "the passphrase is empty" in correlate("key", key, *HOLDER).err
    assert correlate("key", key, *HOLDER).code == 0
    assert correlate(*words, "--out", tmp_path / "a").code == 0
    assert "the passphrase is wrong" in correlate(*words, "--out", tmp_path / "b").err
    (tmp_path / "pass").write_text(f"{PASSPHRASE}\nanything else\n", encoding="utf-8")
    assert correlate(*words, "--out", tmp_path / "b", "--passphrase-file", tmp_path / "pass").code == 0
    (tmp_path / "pass").write_text("\n", encoding="utf-8")
    outcome = correlate(*words, "--out", tmp_path / "c", "--passphrase-file", tmp_path / "pass")
    assert (outcome.code, "the first line contains no passphrase" in outcome.err) == (2, True)
    assert answers == []
    assert (
        "(keep it secret; not encrypted)"
        in correlate("key", tmp_path / "open.key", *HOLDER, "--no-passphrase").out
    )
