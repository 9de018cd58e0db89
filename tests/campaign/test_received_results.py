"""Results of a release that somebody sends: all of them in place and named, or nothing at all."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import load_campaign
from correlate.campaign.received_results import receive_results
from correlate.errors import CorrelateError, FormatError, SettingsError
from tests.formats.archive.outside import OUTSIDE, made_of, plain_archive

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


def archive_of(path: Path, files: Mapping[str, str | bytes]) -> Path:
    """Write a zip file."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return path


@pytest.fixture
def result(project: Path) -> str:
    """Return the text of a sound result of the only load case."""
    return (project / "model/push.csv").read_text(encoding="utf-8")


@pytest.fixture
def outbox(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder for what is sent, outside of the project."""
    return tmp_path_factory.mktemp("outbox")


def everything(project: Path) -> dict[str, bytes]:
    """Return all files of a project with their content."""
    return {str(path): path.read_bytes() for path in project.rglob("*") if path.is_file()}


def test_results_become_a_release(project: Path, outbox: Path, result: str) -> None:
    """Files below one folder of the archive are put under releases/, and the campaign names the release."""
    sent = archive_of(outbox / "sent.zip", {"out/push.csv": result, "out/run.log": "fine\n"})
    received = receive_results(project / "campaign.toml", sent, name="B2", note="stiffer\n  foam")
    assert (received.files, received.read, received.missing) == (2, ("push",), ())
    campaign = load_campaign(project)
    release = campaign.release("B2")
    assert (release.folder, release.note) == ("releases/B2", "stiffer foam")
    assert (project / "releases/B2/push.csv").read_text(encoding="utf-8") == result
    assert campaign.read_model(release, campaign.load_cases[0]).channel_names


def test_missing_load_cases_are_named(project: Path, outbox: Path, result: str) -> None:
    """A release may lack results; which ones is said."""
    path = project / "campaign.toml"
    text = path.read_text(encoding="utf-8")
    case = text[text.index("[[load_case]]") : text.index("[[release]]")]
    path.write_text(text.replace(case, case + case.replace('"push"', '"pull"')), encoding="utf-8")
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    assert receive_results(path, sent, name="B2").missing == ("pull",)


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"other.csv": "x"}, "sent.zip: it contains no result of a load case; expected: 'push.csv'"),
        ({"push.csv": "no curve at all"}, "^push.csv"),
        ({"push.csv": "x", "../outside.csv": "x"}, "outside.csv"),
        ({"push.csv": "x", "/etc/outside": "x"}, "outside"),
    ],
)
def test_what_cannot_be_used_leaves_nothing(
    project: Path, outbox: Path, files: dict[str, str], words: str
) -> None:
    """No result, an unreadable one, names that lead elsewhere: refused, and no byte on the disk differs."""
    before = everything(project)
    with pytest.raises(FormatError, match=words):
        receive_results(project / "campaign.toml", archive_of(outbox / "sent.zip", files), name="B2")
    assert everything(project) == before
    assert not (project / "releases/B2").exists()


def test_an_archive_that_is_none_or_too_large_is_refused(project: Path, outbox: Path, result: str) -> None:
    """Text with a zip name, and more bytes than allowed."""
    (outbox / "sent.zip").write_text("no zip", encoding="utf-8")
    with pytest.raises(FormatError, match="neither a folder nor a valid zip file"):
        receive_results(project / "campaign.toml", outbox / "sent.zip", name="B2")
    sent = archive_of(outbox / "large.zip", {"push.csv": result})
    with pytest.raises(FormatError, match="more than the 100 allowed"):
        receive_results(project / "campaign.toml", sent, name="B2", most_bytes=100)


@pytest.mark.parametrize("name", ["", "..", "../B2", ".hidden", "a/b", "a\\b", "two words", "x" * 61, "a\n"])
def test_a_name_that_is_no_folder_name_is_refused(
    project: Path, outbox: Path, result: str, name: str
) -> None:
    """The name becomes a folder, so it may not lead anywhere."""
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    with pytest.raises(SettingsError, match="is not a valid release name"):
        receive_results(project / "campaign.toml", sent, name=name)


@pytest.mark.parametrize("name", ["b1", "\uff221", "\u04121"])
def test_a_taken_name_is_refused(project: Path, outbox: Path, result: str, name: str) -> None:
    """Case, a wide letter and a Cyrillic one: the same folder on some disks, or the same name to people."""
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    with pytest.raises(SettingsError, match=f"a release '{name}' already exists"):
        receive_results(project / "campaign.toml", sent, name=name)


def test_the_name_of_a_folder_that_is_left_over_is_taken(project: Path, outbox: Path, result: str) -> None:
    """A folder in another case is there already on some disks."""
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    (project / "releases/LEFT").mkdir(parents=True)
    with pytest.raises(SettingsError, match="a release 'left' already exists"):
        receive_results(project / "campaign.toml", sent, name="left")


def test_a_name_of_two_scripts_is_refused(project: Path, outbox: Path, result: str) -> None:
    """The word is named by code point; a note that is too long is refused as well."""
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    with pytest.raises(SettingsError, match=r"mixes Latin and Cyrillic letters in one word \(U\+0421"):
        receive_results(project / "campaign.toml", sent, name="\u0421ab")
    with pytest.raises(SettingsError, match="the note has 201 characters"):
        receive_results(project / "campaign.toml", sent, name="B2", note="x" * 201)


def test_whoever_watches_may_end_it(project: Path, outbox: Path, result: str) -> None:
    """What the watcher raises while the results are read ends the work, and nothing is kept."""
    seen: list[float] = []

    def watch(done: float, words: str) -> None:
        seen.append(done)
        if words.startswith("reading"):
            raise KeyboardInterrupt

    before = everything(project)
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        receive_results(project / "campaign.toml", sent, name="B2", progress=watch)
    assert seen == sorted(seen)
    assert everything(project) == before


def test_a_campaign_that_cannot_take_it_keeps_no_folder(
    project: Path, outbox: Path, result: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the file cannot be changed, the results that were unpacked already go again."""

    def refuse(*_: object) -> None:
        raise CorrelateError("no")

    monkeypatch.setattr("correlate.campaign.new_release.write_campaign", refuse)
    sent = archive_of(outbox / "sent.zip", {"push.csv": result})
    with pytest.raises(CorrelateError, match=r"^no$"):
        receive_results(project / "campaign.toml", sent, name="B2")
    assert not (project / "releases/B2").exists()


@pytest.mark.parametrize("way", OUTSIDE)
def test_results_made_of_another_file_are_refused(way: str, project: Path, outbox: Path) -> None:
    """An archive of HDF5 under the name of a result reads no file of the server, and nothing is kept."""
    plain_archive(outbox / "other/secret.h5", seed=1)
    made = made_of(outbox / "other/secret.h5", outbox / "a.h5", way)
    sent = archive_of(outbox / "sent.zip", {"push.csv": made.read_bytes()})
    before = everything(project)
    with pytest.raises(FormatError, match=rf"^push\.csv: {OUTSIDE[way][1]}"):
        receive_results(project / "campaign.toml", sent, name="B2")
    assert everything(project) == before
