"""Packages of a project: kept apart where errors were found, released by name, never without their record."""

from __future__ import annotations

import errno
import json
import os
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate import (
    PackagePlan,
    check,
    checked_package,
    make_package,
    read,
    receive_package,
    received_package,
    received_packages,
    release_of_test,
    release_package,
    signing_chain,
    verify,
    waive,
)
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.formats.iso13499 import write_test
from correlate.reference.package.received import PackageRelease
from correlate.reference.package.trust import trust_in
from tests.formats.archive.outside import OUTSIDE, made_of, plain_archive
from tests.reference.folders import write_pulse
from tests.reference.package.key_files import key_pair, sign_again
from tests.reference.package.test_package_corpus import listed

if TYPE_CHECKING:
    from collections.abc import Callable

NOW = datetime(2026, 11, 30, 7, 15, tzinfo=UTC)


def clipped(folder: Path, name: str = "T9") -> Path:
    """Write a test with a clipped peak."""
    test = write_pulse(folder, name, 9)
    channel = test / f"Channel/{name}.001"
    lines = channel.read_text(encoding="utf-8").splitlines()
    cut = [line if ":" in line else f"{min(float(line), 500.0)}" for line in lines]
    channel.write_text("\n".join(cut) + "\n", encoding="utf-8")
    return test


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Return a project that holds a package with a clipped peak in quarantine."""
    plan = PackagePlan(tests=[clipped(tmp_path)], checked_by="lab", despite="it is needed")
    make_package(plan, tmp_path / "drops.zip")
    (tmp_path / "project").mkdir()
    receive_package(tmp_path / "project", tmp_path / "drops.zip")
    return tmp_path / "project"


def test_a_package_with_errors_is_in_quarantine(project: Path) -> None:
    """Its note says what was found, without a path of the machine."""
    (package,) = received_packages(project)
    assert (package.name, package.quarantine, package.errors, package.folder) == (
        "drops",
        True,
        1,
        "quarantine/drops",
    )
    assert package.findings[0].startswith("drops/data/tests/drop/T9")
    assert str(project) not in json.dumps(package.as_plain())
    (test,) = (project / "quarantine/drops/data/tests/drop").iterdir()
    assert checked_package(project, package).findings == check([read(test)]).findings


def test_findings_name_files_from_the_package_on(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where the project is the present folder, no folder of the work in between is left in them."""
    monkeypatch.chdir(project)
    (tmp_path / "drops.zip").rename(tmp_path / "again.zip")
    package = receive_package(Path(), tmp_path / "again.zip")
    assert package.findings[0].startswith("again/data/tests/drop/T9")


def test_a_released_package_keeps_who_when_and_why(project: Path) -> None:
    """It lies under received, whole, and its record is found from a test in it; quarantine is empty."""
    freed = release_package(project, "drops", who="lab", why="the peak is not used", now=NOW)
    assert not freed.quarantine
    (package,) = received_packages(project)
    assert package == freed
    assert package.released is not None
    assert package.released.words == (
        "released from quarantine despite 1 open error by lab on 2026-11-30: the peak is not used"
    )
    assert verify(project / "received/drops").files > 0
    assert list((project / "quarantine").iterdir()) == []
    test = project / "received/drops/data/tests/drop/T9"
    assert release_of_test(project, test) == ("drops", package.released)
    assert release_of_test(project, project / "laboratory/drop/T1") is None
    assert release_of_test(project, Path("/elsewhere/T1")) is None


def test_waived_errors_are_counted_as_waived(project: Path) -> None:
    """The record says how many errors were open, and how many findings somebody answers for."""
    waive(project, checked_package(project, received_package(project, "drops")).findings, who="a", why="b")
    released = release_package(project, "drops", who="lab", why="fine", now=NOW).released
    assert released is not None
    assert (released.errors, released.waived) == (0, 1)
    assert "with no open error by lab" in released.words


@pytest.mark.parametrize(
    ("name", "who", "why", "words"),
    [
        ("drops", " ", "a reason", "nobody is named"),
        ("drops", "lab", "  ", "no reason is given"),
        ("other", "lab", "a reason", "there is no package 'other'; packages here: drops"),
    ],
)
def test_a_release_needs_a_package_a_person_and_a_reason(
    project: Path, name: str, who: str, why: str, words: str
) -> None:
    """Refused in a sentence; the package stays where it is."""
    with pytest.raises(SettingsError, match=words):
        release_package(project, name, who=who, why=why)
    assert received_package(project, "drops").quarantine


def test_a_changed_byte_is_never_released(project: Path) -> None:
    """Whoever answers for the package answers for what was sent."""
    (file,) = project.glob("quarantine/drops/data/tests/drop/T9/Channel/T9.001")
    file.write_bytes(file.read_bytes().replace(b"500", b"501", 1))
    with pytest.raises(FormatError, match=r"T9\.001"):
        release_package(project, "drops", who="lab", why="a reason")
    assert received_package(project, "drops").quarantine


def test_data_that_cannot_be_read_are_never_released(tmp_path: Path) -> None:
    """A channel without numbers: nobody can answer for it, neither by a release nor by a waiver."""
    pulse = read(write_pulse(tmp_path, "T9", 9)).signals[0]
    other = replace(
        pulse, samples=pulse.samples * 0.5 + np.sin(pulse.time_s * 900), channel="D0HEAD0000KMACYP"
    )
    test = write_test(
        tmp_path / "T8",
        name="T8",
        description={"Type of the test": "drop"},
        signals=[pulse, other],
        significant_digits=6,
    )
    channel = test / "Channel/T8.002"
    lines = channel.read_text(encoding="utf-8").splitlines()
    channel.write_text("\n".join([*lines[:-5], "none", *lines[-4:]]) + "\n", encoding="utf-8")
    make_package(PackagePlan(tests=[test], checked_by="lab", despite="needed"), tmp_path / "drops.zip")
    (tmp_path / "project").mkdir()
    package = receive_package(tmp_path / "project", tmp_path / "drops.zip")
    assert package.quarantine
    with pytest.raises(FormatError, match="1 channel cannot be read"):
        release_package(tmp_path / "project", "drops", who="lab", why="a reason")
    findings = checked_package(tmp_path / "project", package).findings
    with pytest.raises(FormatError, match="1 channel cannot be read"):
        waive(tmp_path / "project", findings, who="lab", why="a reason")


def test_what_is_received_cannot_be_released_again(project: Path) -> None:
    """The first record stays."""
    release_package(project, "drops", who="lab", why="first", now=NOW)
    with pytest.raises(SettingsError, match="'drops' is not in quarantine"):
        release_package(project, "drops", who="else", why="second")
    released = received_package(project, "drops").released
    assert released is not None
    assert released.why == "first"


def test_a_release_that_was_interrupted_can_be_made_again(project: Path) -> None:
    """A note without its package, on either side of the move, counts for nothing."""
    (project / "received").mkdir()
    note = (project / "quarantine/drops.json").read_text(encoding="utf-8")
    (project / "received/drops.json").write_text(note, encoding="utf-8")
    assert [one.quarantine for one in received_packages(project)] == [True]
    release_package(project, "drops", who="lab", why="again", now=NOW)
    (project / "quarantine/drops.json").write_text(note, encoding="utf-8")
    (package,) = received_packages(project)
    assert (package.quarantine, package.released is not None) == (False, True)


def test_a_note_that_cannot_be_read_or_lost_its_package_has_a_problem(project: Path) -> None:
    """It is listed, never left out, and never looks received without a reservation."""
    (project / "received").mkdir()
    (project / "received/gone.json").write_text(
        json.dumps({"findings": [], "errors": 0, "signed_by": ""}), encoding="utf-8"
    )
    (project / "quarantine/drops.json").write_text("{", encoding="utf-8")
    torn, gone = received_packages(project)
    assert "quarantine/drops.json cannot be read" in torn.problem
    assert "received/gone is missing" in gone.problem
    with pytest.raises(SettingsError, match="cannot be read"):
        release_package(project, "drops", who="lab", why="a reason")


@pytest.mark.parametrize(
    "note",
    [
        "[]",
        '"text"',
        '{"findings": [], "errors": Infinity, "signed_by": ""}',
        '{"findings": [], "errors": 0, "signed_by": "", "released": "yes"}',
        '{"findings": [], "errors": 0, "signed_by": "", "released": {"who": 1, "when": 2, "why": 3}}',
    ],
)
def test_a_note_of_other_contents_has_a_problem(project: Path, note: str) -> None:
    """A list, a text, infinitely many errors, and a release whose texts are none."""
    (project / "quarantine/drops.json").write_text(note, encoding="utf-8")
    [package] = received_packages(project)
    assert "quarantine/drops.json cannot be read" in package.problem


def test_the_words_of_a_release_are_one_printable_line() -> None:
    """A name or reason with control characters cannot break a terminal or a page."""
    release = PackageRelease(who="lab\u2028\x1b[2J", when="2026-03-04", why="seen\nby me", errors=0)
    assert release.words.isprintable()
    assert release.words.endswith(r"by lab \x1b[2J on 2026-03-04: seen by me")


def test_a_name_that_is_taken_is_refused(project: Path, tmp_path: Path) -> None:
    """The package there stays as it is, in quarantine or not."""
    with pytest.raises(CorrelateError, match="a package 'drops' already exists under quarantine"):
        receive_package(project, tmp_path / "drops.zip")
    (project / "received/drops").mkdir(parents=True)
    with pytest.raises(SettingsError, match="already exists under received"):
        release_package(project, "drops", who="lab", why="a reason")


@pytest.fixture
def trusting(tmp_path: Path) -> Path:
    """Return a project that trusts one key, which is beside it; and a sound package without signature."""
    make_package(PackagePlan(tests=[write_pulse(tmp_path, "T1", 1)], checked_by="lab"), tmp_path / "sound")
    key_pair(tmp_path / "lab.key")
    folder = tmp_path / "trusting" / "trusted_keys"
    folder.mkdir(parents=True)
    (folder / "lab.pub").write_bytes((tmp_path / "lab.key.pub").read_bytes())
    return tmp_path / "trusting"


def test_a_package_with_a_trusted_signature_is_received(trusting: Path, tmp_path: Path) -> None:
    """Nothing speaks against it, and the chain is told again from what is stored."""
    sign_again(tmp_path / "sound", tmp_path / "lab.key", date(2026, 11, 30))
    package = receive_package(trusting, tmp_path / "sound")
    assert (package.quarantine, package.distrust, package.errors) == (False, "", 0)
    assert "because it is in trusted_keys/lab.pub" in signing_chain(trusting, package).words
    (trusting / package.folder / "signature.json").write_text("{}", encoding="utf-8")
    with pytest.raises(FormatError, match=r"received/sound, signature\.json: the signature cannot be read"):
        signing_chain(trusting, package)


def unsigned(project: Path, bag: Path) -> str:
    """Leave the package without signature."""
    assert (project.is_dir(), (bag / "signature.json").exists()) == (True, False)
    return "it is not signed"


def unknown(project: Path, bag: Path) -> str:
    """Sign with a key that the project does not know."""
    key = key_pair(project.parent / "other.key")
    sign_again(bag, project.parent / "other.key", date(2026, 11, 30))
    return f"its key {key.fingerprint} is not among the trusted keys of trusted_keys"


def expired(project: Path, bag: Path) -> str:
    """Sign with a key that the project knows and whose days are over."""
    key = key_pair(project.parent / "old.key", first=date(2020, 1, 1), last=date(2020, 12, 31))
    (project / "trusted_keys/old.pub").write_bytes((project.parent / "old.key.pub").read_bytes())
    sign_again(bag, project.parent / "old.key", date(2020, 6, 1))
    return f"its key {key.fingerprint} expired after 2020-12-31"


def revoked(project: Path, bag: Path) -> str:
    """Sign with the trusted key, and revoke it."""
    sign_again(bag, project.parent / "lab.key", date(2026, 11, 1))
    (mine,) = [key for _, key in trust_in(project / "trusted_keys").keys]
    (project / "trusted_keys/revoked.toml").write_text(
        f'revoked = [{{ fingerprint = "{mine.fingerprint}", date = 2026-11-20, reason = "laptop lost" }}]\n',
        encoding="utf-8",
    )
    return f"its key {mine.fingerprint} was revoked on 2026-11-20 (laptop lost)"


@pytest.mark.parametrize("sign", [unsigned, unknown, expired, revoked])
def test_a_package_without_an_accepted_signature_is_in_quarantine(
    trusting: Path, tmp_path: Path, sign: Callable[[Path, Path], str]
) -> None:
    """No error in the data, and the reason in its note; a person may release it, and the record says so."""
    reason = sign(trusting, tmp_path / "sound")
    package = receive_package(trusting, tmp_path / "sound")
    assert (package.quarantine, package.errors, package.distrust) == (True, 0, reason)
    assert received_packages(trusting) == [package]
    freed = release_package(trusting, "sound", who="lab", why="called the sender", now=NOW)
    assert freed.released is not None
    assert freed.released.words == (
        f"released from quarantine with no open error and although {reason} by lab on 2026-11-30: "
        "called the sender"
    )
    (again,) = received_packages(trusting)
    assert again.released == freed.released


def test_a_project_without_trusted_keys_asks_for_no_signature(trusting: Path, tmp_path: Path) -> None:
    """As long as it names nobody; a note of an earlier version is still read."""
    (trusting / "trusted_keys").rename(tmp_path / "away")
    package = receive_package(trusting, tmp_path / "sound")
    assert (package.quarantine, package.distrust) == (False, "")
    note = trusting / "received/sound.json"
    content = json.loads(note.read_text(encoding="utf-8"))
    assert content.pop("distrust") == ""
    note.write_text(json.dumps(content), encoding="utf-8")
    assert received_packages(trusting) == [package]


@pytest.mark.parametrize("way", OUTSIDE)
def test_a_package_made_of_another_file_is_refused(way: str, bag: Path, tmp_path: Path) -> None:
    """An archive in a sound package reads no file of the project, and nothing of the package is kept."""
    secret = plain_archive(tmp_path / "other/secret.h5", seed=1)
    made_of(secret, bag / "data/tests/drop/T4.h5", way)
    listed(bag)
    (tmp_path / "project").mkdir()
    with pytest.raises(FormatError, match=OUTSIDE[way][1]):
        receive_package(tmp_path / "project", bag)
    assert list((tmp_path / "project").iterdir()) == []


def test_a_full_disk_is_one_sentence(project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With its remedy, whichever folder cannot be created; nothing of the package is kept."""
    tests = [write_pulse(tmp_path / "more", "T2", 2)]
    make_package(PackagePlan(tests=tests, checked_by="lab"), tmp_path / "more.zip")
    before = sorted(project.rglob("*"))
    make = Path.mkdir

    def full(path: Path, *how: Any, **words: Any) -> None:
        if path.name == "received":
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        make(path, *how, **words)

    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(FormatError, match=r"cannot be written \(No space left on device\); free some space"):
        receive_package(project, tmp_path / "more.zip")
    assert sorted(project.rglob("*")) == before


def test_the_note_of_an_interrupted_release_is_removed(project: Path) -> None:
    """The package is in place and its old note still in quarantine: given again, it is refused and tidied."""
    old = project / "quarantine/drops.json"
    content = old.read_bytes()
    release_package(project, "drops", who="lab", why="needed", now=NOW)
    old.write_bytes(content)
    with pytest.raises(SettingsError, match="the package 'drops' is not in quarantine"):
        release_package(project, "drops", who="lab", why="needed", now=NOW)
    assert not old.exists()
    assert (project / "received/drops.json").is_file()
