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


@pytest.fixture
def laboratory(tmp_path: Path) -> Path:
    """Write three repeats of one load case."""
    for number in (1, 2, 3):
        write_pulse(tmp_path / "laboratory", f"T{number}", number)
    return tmp_path / "laboratory"


def test_from_the_laboratory_to_the_analyst(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """Key, package, verification with the key, unpacking: each says what it did."""
    words = tmp_path / "words.toml"
    words.write_text(
        'title = "Drops of March"\nlaboratory = "Kelpwick Impact Laboratory"\n', encoding="utf-8"
    )
    key, bag, out = tmp_path / "lab.key", tmp_path / "drops.zip", tmp_path / "out"
    made = correlate("key", key)
    fingerprint = made.out.split("fingerprint")[1].strip()
    packed = correlate(
        "pack", laboratory, "--out", bag, "--checked-by", "lab", "--describe", words, "--sign", key
    )
    assert packed.code == 0, packed.err
    assert f"signed by: {fingerprint}" in packed.out
    assert "3 tests, 3 channels: 0 errors" in packed.out
    seen = correlate("verify", bag)
    assert f"signed by {fingerprint}: compare with the sender" in seen.out
    assert "external description: Drops of March" in seen.out
    unpacked = correlate("unpack", bag, "--into", out, "--key", f"{key}.pub")
    assert f"signed by the given key, {fingerprint}" in unpacked.out
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
    assert "not signed: the lists themselves may have been replaced" in correlate("verify", bag).out


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
