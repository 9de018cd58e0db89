"""Photos and films of a package: listed with hash and time zero, few types, never anything that runs."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import pytest

from correlate import PackagePlan, make_package, receive_package, release_package, unpack, verify
from correlate.errors import FormatError
from correlate.reference.package import media as media_of_packages
from correlate.reference.package.description import load_words
from correlate.reference.package.media import check_media, media_file, package_media
from correlate.reference.package.received import media_of_test, package_of_test
from tests.reference.package.media_files import MP4, PNG, WORDS, write_words
from tests.reference.package.test_package_corpus import listed

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def with_media(tests_made: list[Path], tmp_path: Path) -> Path:
    """Return a package in a folder with two films and a photo."""
    words = load_words(write_words(tmp_path / "words"))
    make_package(PackagePlan(tests=tests_made, checked_by="lab", words=words), tmp_path / "bag")
    return tmp_path / "bag"


def test_files_are_copied_and_listed_with_hash_and_time_zero(with_media: Path) -> None:
    """Byte by byte, in the manifest and in the description, by test."""
    assert (with_media / "data/media/T1/left.mp4").read_bytes() == MP4
    assert (with_media / "data/media/rig.png").read_bytes() == PNG
    assert "data/media/T1/left.mp4" in (with_media / "manifest-sha512.txt").read_text(encoding="utf-8")
    verify(with_media)
    said = json.loads((with_media / "data/description.json").read_text(encoding="utf-8"))
    assert said["title"] == "Drops"
    assert said["media"][0] == {
        "file": "data/media/T1/left.mp4",
        "test": "T1",
        "shows": "head and plate at the first contact",
        "view": "left, at right angles to the plane of motion",
        "frame_rate_per_s": 1000,
        "time_zero_frame": 120,
        "time_zero_s": None,
        "bytes": len(MP4),
        "sha256": hashlib.sha256(MP4).hexdigest(),
    }
    film, other, photo = package_media(with_media)
    assert film.time_zero_words == (
        "time zero of the test is frame 120, the first being 0; recorded at 1000 frames per second"
    )
    assert other.time_zero_words == (
        "time zero of the test is at 4.8 s of the film; recorded at 2000 frames per second"
    )
    assert (photo.time_zero_words, photo.view, photo.test) == ("", "not given", "")
    check_media(with_media)


def test_a_test_of_a_received_package_finds_its_photos_and_films(with_media: Path, tmp_path: Path) -> None:
    """Its own and those of all tests; no other test, and none of a test elsewhere."""
    project = tmp_path / "project"
    project.mkdir()
    package = receive_package(project, with_media)
    if package.quarantine:
        release_package(project, "bag", who="lab", why="for this test")
    tests = project / "received/bag/data/tests/drop"
    assert package_of_test(project, tests / "T1") == "bag"
    found = {name: [one.file for one in media_of_test(project, tests / name)] for name in ("T1", "T3")}
    assert found == {"T1": ["data/media/T1/left.mp4", "data/media/rig.png"], "T3": ["data/media/rig.png"]}
    assert media_of_test(project, project / "laboratory/T1") == ()
    assert media_of_test(project, tmp_path / "T1") == ()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("rig.png", "rig.svg", "'rig.svg' is not of an accepted type; convert it to one of .jpg"),
        ("films/left.mp4", "films/left.avi", "'films/left.avi' is not of an accepted type"),
        ("time_zero_frame = 120\n", "", "needs frame_rate_per_s and either time_zero_frame or time_zero_s"),
        ("time_zero_frame = 120", "time_zero_frame = 120\ntime_zero_s = 1", "either time_zero_frame or"),
        ("frame_rate_per_s = 1000\n", "", "needs frame_rate_per_s"),
        ("frame_rate_per_s = 1000", "frame_rate_per_s = 0", "greater than 0"),
        ("frame_rate_per_s = 1000", "frame_rate_per_s = inf", "frame_rate_per_s"),
        ('file = "rig.png"', 'file = "rig.png"\ntime_zero_s = 1', "the photo 'rig.png' has no frames"),
        ('shows = "the fall"', 'shows = ""', "at least 1 character"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_line(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Before anything is packed."""
    assert old in WORDS
    path = write_words(tmp_path / "words", WORDS.replace(old, new))
    with pytest.raises(FormatError, match=r"words\.toml: 1 mistake: line \d+.*" + message):
        load_words(path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('test = "T1"', 'test = "T7"', r"left\.mp4: the package holds no test 'T7'; name one of T1, T2, T3"),
        ("films/left.mp4", "films/absent.mp4", r"absent\.mp4: there is no such file"),
        ("films/front.webm", "films/text.webm", r"text\.webm: the content is not video/webm"),
        ("rig.png", "films/page.jpg", r"page\.jpg: the content is not image/jpeg"),
        ("films/front.webm", "films/left.mp4", "would both be 'T1/left.mp4'"),
        ("rig.png", "films/aux.png", "'data/media/aux.png' is reserved for a device"),
        ("rig.png", "films/50%.png", "holds a percent sign"),
    ],
)
def test_a_wrong_file_is_refused(
    tests_made: list[Path], tmp_path: Path, old: str, new: str, message: str
) -> None:
    """With its name; nothing is left of the package."""
    path = write_words(tmp_path / "words", WORDS.replace('test = "T2"', 'test = "T1"').replace(old, new))
    (path.parent / "films/text.webm").write_bytes(b"hello")
    (path.parent / "films/page.jpg").write_bytes(b"<svg onload='alert(1)'/>")
    (path.parent / "films/aux.png").write_bytes(PNG)
    (path.parent / "films/50%.png").write_bytes(PNG)
    plan = PackagePlan(tests=tests_made, checked_by="lab", words=load_words(path))
    with pytest.raises(FormatError, match=message):
        make_package(plan, tmp_path / "bag")
    assert {one.name for one in tmp_path.iterdir()} == {"words"}


def test_a_photo_that_is_too_large_is_refused(
    tests_made: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Photos and films each have a bound."""
    monkeypatch.setattr(media_of_packages, "LARGEST_PHOTO", len(PNG) - 1)
    plan = PackagePlan(tests=tests_made, checked_by="lab", words=load_words(write_words(tmp_path / "words")))
    with pytest.raises(FormatError, match=r"rig\.png: this is larger than 0 MiB; send a shorter or smaller"):
        make_package(plan, tmp_path / "bag")


def relisted(bag: Path, old: str, new: str) -> None:
    """Change the description of a package and make its lists true again."""
    path = bag / "data/description.json"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    listed(bag)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "data/media/T1/left.mp4",
            "data/media/T1/none.mp4",
            "this file is missing, and the description lists it",
        ),
        ("data/media/T1/left.mp4", "data/check.html", "is not of an accepted type"),
        ("data/media/T1/left.mp4", "data/tests/T1.mp4", "is not in data/media"),
        ("data/media/T1/left.mp4", "data/media/../../../x.mp4", "leads elsewhere"),
        ("data/media/T1/left.mp4", "/etc/x.mp4", "is an absolute path"),
        ("data/media/rig.png", "data/media/T2/front.webm", "has no frames|needs frame_rate_per_s"),
        ('"bytes": 5012', '"bytes": 5011', "its hash is not that of the description"),
        ('"media": [', '"media": [3, ', "the entry of a photo or film is not valid"),
        ('"media": [', '"media": 3, "x": [', "the description cannot be read"),
        ('"title"', "title", "the description cannot be read"),
    ],
)
def test_a_wrong_list_in_a_package_is_refused_on_arrival(
    with_media: Path, tmp_path: Path, old: str, new: str, message: str
) -> None:
    """All hashes are true, so verifying finds nothing; receiving does, and nothing is kept."""
    relisted(with_media, old, new)
    verify(with_media)
    (tmp_path / "project").mkdir()
    with pytest.raises(FormatError, match=message) as error:
        receive_package(tmp_path / "project", with_media)
    assert error.value.remedy
    assert str(tmp_path) not in str(error.value)
    assert list((tmp_path / "project").iterdir()) == []


def test_a_content_that_is_not_of_its_type_is_refused_on_arrival(with_media: Path, tmp_path: Path) -> None:
    """A page that is called a photo, with true lists."""
    (with_media / "data/media/rig.png").write_bytes(b"<script>alert(1)</script>")
    listed(with_media)
    (tmp_path / "project").mkdir()
    with pytest.raises(FormatError, match=r"bag/data/media/rig\.png: the content is not image/png"):
        receive_package(tmp_path / "project", with_media)


def test_only_listed_files_are_handed_out(with_media: Path) -> None:
    """Exactly as they are listed; no other file of the package, no way out of it, no link."""
    path, entry = media_file(with_media, "data/media/rig.png")
    assert (path.read_bytes(), entry.content_type) == (PNG, "image/png")
    for name in (
        "data/check.html",
        "data/description.json",
        "data/media/T1/../rig.png",
        "../bag/data/media/rig.png",
        "data/media/rig.PNG",
        str(path),
        "",
    ):
        with pytest.raises(FormatError, match="lists no such photo or film"):
            media_file(with_media, name)
    path.unlink()
    path.symlink_to("/etc/hostname")
    with pytest.raises(FormatError, match="lists no such photo or film"):
        media_file(with_media, "data/media/rig.png")


def test_a_package_without_description_has_none(bag: Path, tmp_path: Path) -> None:
    """Other programs make bags, too."""
    (bag / "data/description.json").unlink()
    listed(bag)
    unpack(bag, tmp_path / "out")
    assert package_media(tmp_path / "out") == ()
