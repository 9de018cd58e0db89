"""Making a package: what is in it, and what is refused."""

from __future__ import annotations

import errno
import json
import logging
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import bagit
import numpy as np
import pytest

from correlate import Recipe, read
from correlate.errors import CorrelateError, FormatError, SettingsError
from correlate.reference.check import check
from correlate.reference.package.create import PackagePlan, make_package
from correlate.reference.package.description import PackageWords, load_words
from correlate.reference.package.verify import unpack, verify
from tests.oracles.bag_by_hand import differences
from tests.reference.folders import CODE, write_pulse


def test_a_bag_by_the_books(sound_bag: Path) -> None:
    """The library, a check by hand and our own verification agree that the bag is sound."""
    library = bagit.Bag(str(sound_bag))
    assert library.validate(processes=1)
    assert library.version_info == (1, 0)
    assert differences(sound_bag) == set()
    found = verify(sound_bag)
    assert found.files == len(library.payload_entries())
    assert found.algorithm == "sha512"


def test_tests_are_copied_byte_by_byte(sound_bag: Path, tests_made: list[Path]) -> None:
    """Every file of a test folder, documents included, is in the bag unchanged."""
    for test in tests_made:
        packed = sound_bag / "data" / "tests" / "drop" / test.name
        files = [path for path in test.rglob("*") if path.is_file()]
        assert len(files) == 4
        for path in files:
            assert (packed / path.relative_to(test)).read_bytes() == path.read_bytes()


def test_the_description_says_what_the_tests_say(sound_bag: Path) -> None:
    """Conditions, instrumentation, who checked and what was found."""
    found = json.loads((sound_bag / "data" / "description.json").read_text(encoding="utf-8"))
    assert found["checked_by"] == "lab"
    assert datetime.fromisoformat(found["checked_at"]).tzinfo is not None
    assert found["findings"] == {"error": 0, "warning": 0, "note": 0}
    (first, *_) = found["tests"]
    assert first["conditions"]["temperature_degC"] == "21.3"
    assert first["conditions"]["impact_speed_m_per_s"] == "not given"
    assert first["channels"][0]["full_scale"] == "2000"
    assert first["channels"][0]["repairs"] == []


def test_corridors_are_readable_curves(sound_bag: Path, tests_made: list[Path]) -> None:
    """The mean of the corridor is the mean of the repeats, moved as its header says."""
    corridor = read(sound_bag / "data" / "corridors" / "drop" / f"{CODE}.csv")
    assert corridor.channel_names == ("mean", "standard deviation", "least", "largest")
    shifts = [float(text) for text in corridor.details["shifts of the repeats in ms"].split(",")]
    curves = []
    for test, shift in zip(tests_made, shifts, strict=True):
        samples = read(test).channel(CODE).samples
        curves.append(np.roll(samples, round(shift / 0.1)))
    inner = slice(40, -40)
    assert corridor.channel("mean").samples[inner] == pytest.approx(np.mean(curves, axis=0)[inner], abs=1e-6)


def test_a_recipe_shapes_its_corridor(tests_made: list[Path], tmp_path: Path) -> None:
    """Filter and interval of a channel hold for its corridor, and stand in its header."""
    recipes = {("drop", CODE): Recipe(cfc=180, start_s=0.0, end_s=0.05)}
    make_package(PackagePlan(tests=tests_made, checked_by="lab", recipes=recipes), tmp_path / "bag")
    corridor = read(tmp_path / "bag" / "data" / "corridors" / "drop" / f"{CODE}.csv")
    assert corridor.details["filter"] == "CFC 180"
    assert len(corridor.signals[0]) == 501


def test_there_and_back_in_a_zip_file(tests_made: list[Path], tmp_path: Path) -> None:
    """Packed, unpacked, read: the channels are the same float64, and nothing else lies in the folder."""
    words = PackageWords(title="drops", laboratory="Kelpwick Impact Laboratory")
    moment = datetime(2024, 3, 4, 12, 0, tzinfo=UTC)
    plan = PackagePlan(tests=tests_made, checked_by="lab", words=words, checked_at=moment)
    made, _ = make_package(plan, tmp_path / "drops.zip")
    assert made.info["Source-Organization"] == ["Kelpwick Impact Laboratory"]
    assert made.info["Bagging-Date"] == ["2024-03-04"]
    unpack(tmp_path / "drops.zip", tmp_path / "out")
    assert {path.name for path in tmp_path.iterdir()} == {"drops.zip", "out"}
    for test in tests_made:
        again = read(tmp_path / "out" / "data" / "tests" / "drop" / test.name)
        assert np.array_equal(again.channel(CODE).samples, read(test).channel(CODE).samples)
    assert {name.split("/")[0] for name in zipfile.ZipFile(tmp_path / "drops.zip").namelist()} == {"drops"}


def test_text_files_become_test_folders(tmp_path: Path) -> None:
    """Delimited text with channel codes is written in the form of the standard."""
    rows = "\n".join(
        f"{t / 10 - 30:.1f},{900 * np.exp(-(((t - 500) / 60) ** 2)) + t % 7:.4f}" for t in range(1000)
    )
    (tmp_path / "run").mkdir()
    text = tmp_path / "run" / "run1.csv"
    text.write_text(f"time [ms],{CODE} [m/s^2]\n{rows}\n", encoding="utf-8")
    make_package(PackagePlan(tests=[text], checked_by="lab"), tmp_path / "bag")
    again = read(tmp_path / "bag" / "data" / "tests" / "run" / "run1")
    assert again.format == "ISO/TS 13499"
    assert np.array_equal(again.channel(CODE).samples, read(text).channel(CODE).samples)
    text.write_text(f"time [ms],nose [m/s^2]\n{rows}\n", encoding="utf-8")
    with pytest.raises(CorrelateError, match=r"run1\.csv.*the channel code 'nose' has 4 characters"):
        make_package(PackagePlan(tests=[text], checked_by="lab"), tmp_path / "other")
    assert not (tmp_path / "other").exists()


def spoilt(tmp_path: Path) -> Path:
    """Write a test whose peak is clipped."""
    path = write_pulse(tmp_path, "T9", 9)
    channel = path / "Channel" / "T9.001"
    lines = channel.read_text().splitlines()
    kept = [f"{min(float(line), 500.0)}" if ":" not in line else line for line in lines]
    channel.write_text("\n".join(kept) + "\n")
    return path


def test_data_with_errors_need_a_reason(tmp_path: Path) -> None:
    """Refused with the first finding, and nothing is left; with a reason the package says so."""
    bad = spoilt(tmp_path)
    assert check([read(bad)]).has_errors
    with pytest.raises(FormatError, match="the check found 1 error, first saturation"):
        make_package(PackagePlan(tests=[bad], checked_by="lab"), tmp_path / "bag")
    assert {path.name for path in tmp_path.iterdir()} == {"T9"}
    plan = PackagePlan(tests=[bad], checked_by="lab", despite="the peak is not used")
    make_package(plan, tmp_path / "bag")
    words = json.loads((tmp_path / "bag" / "data" / "description.json").read_text(encoding="utf-8"))
    assert words["shared_despite_errors"] == "the peak is not used"
    assert words["findings"]["error"] == 1


def test_reports_are_put_beside_the_tests(tests_made: list[Path], tmp_path: Path) -> None:
    """Whatever the caller makes of the outcome is in the bag and in its lists."""
    plan = PackagePlan(
        tests=tests_made, checked_by="lab", reports=lambda outcome: {"check.txt": outcome.in_words}
    )
    make_package(plan, tmp_path / "bag")
    assert "3 tests, 3 channels" in (tmp_path / "bag" / "data" / "check.txt").read_text(encoding="utf-8")
    assert "data/check.txt" in (tmp_path / "bag" / "manifest-sha512.txt").read_text(encoding="utf-8")


def test_refusals(tests_made: list[Path], tmp_path: Path) -> None:
    """Nobody answers, nothing to share, a target that exists, two tests of one name, links, odd names."""
    with pytest.raises(SettingsError, match="nobody is named as responsible for the check"):
        make_package(PackagePlan(tests=tests_made, checked_by=" "), tmp_path / "bag")
    with pytest.raises(SettingsError, match="there is no test to share"):
        make_package(PackagePlan(tests=[], checked_by="lab"), tmp_path / "bag")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "file").touch()
    with pytest.raises(FormatError, match="this already exists"):
        make_package(PackagePlan(tests=tests_made, checked_by="lab"), tmp_path / "full")
    twin = shutil.copytree(tests_made[0], tmp_path / "twin" / tests_made[0].name)
    with pytest.raises(FormatError, match="would both be 'tests/drop/T1'"):
        make_package(PackagePlan(tests=[*tests_made, twin], checked_by="lab"), tmp_path / "bag")
    (twin / "Document" / "link").symlink_to("/etc/hostname")
    with pytest.raises(FormatError, match="'Document/link' is a link or a device"):
        make_package(PackagePlan(tests=[twin], checked_by="lab"), tmp_path / "bag")
    (twin / "Document" / "link").unlink()
    (twin / "Document" / "50%.txt").touch()
    with pytest.raises(FormatError, match="holds a percent sign"):
        make_package(PackagePlan(tests=[twin], checked_by="lab"), tmp_path / "bag")
    assert {path.name for path in tmp_path.iterdir()} == {"full", "twin"}


def test_the_words_of_the_sender(tmp_path: Path) -> None:
    """Read from a file; unknown keys are named with those there are."""
    path = tmp_path / "words.toml"
    path.write_text('title = "drops"\nconditions = "21 °C"\n', encoding="utf-8")
    assert load_words(path).conditions == "21 °C"
    path.write_text('titel = "drops"\n', encoding="utf-8")
    with pytest.raises(FormatError, match=r"line 1, titel: there is no such key; did you mean 'title'"):
        load_words(path)
    with pytest.raises(FormatError, match=r"absent\.toml: cannot be read"):
        load_words(tmp_path / "absent.toml")


STREAM = """
import sys
import tempfile
from pathlib import Path
from correlate.reference.package.create import PackagePlan, make_package
from correlate.reference.package.verify import unpack
from correlate.reference.package.verify import verify
test, bag, out = map(Path, sys.argv[1:])
make_package(PackagePlan(tests=[test], checked_by="lab"), bag)
verify(bag)
unpack(bag, out)
status = Path("/proc/self/status").read_text()
print(int(status.split("VmHWM:")[1].split()[0]) // 1024)
"""
"""Prints the most memory it ever had resident, in MB; getrusage would count the parent's too."""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
def test_a_large_film_streams(tmp_path: Path) -> None:
    """With a film of 300 MB, packing, verifying and unpacking stay below 200 MB of memory."""
    test = write_pulse(tmp_path, "T1", 1)
    (test / "Movie").mkdir()
    with (test / "Movie" / "drop.avi").open("wb") as film:
        film.truncate(300 * 2**20)
    done = subprocess.run(
        [sys.executable, "-c", STREAM, test, tmp_path / "bag.zip", tmp_path / "out"],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[3],
    )
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < 200
    assert (tmp_path / "out/data/tests/drop/T1/Movie/drop.avi").stat().st_size == 300 * 2**20


def test_a_full_disk_is_one_sentence_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The library that makes the bag writes no traceback, and the sentence speaks of writing."""

    def full(*_: object, **__: object) -> str:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    test = write_pulse(tmp_path / "lab", "T1", 1)
    monkeypatch.setattr(tempfile, "mkdtemp", full)
    with pytest.raises(FormatError, match=r"drops\.zip: this cannot be written \(No space left on device\)"):
        make_package(PackagePlan(tests=[test], checked_by="lab"), tmp_path / "drops.zip")
    assert [path.name for path in tmp_path.iterdir()] == ["lab"]
    assert caplog.records
    assert any(isinstance(one, logging.NullHandler) for one in logging.getLogger("bagit").handlers)


def test_what_a_killed_program_left_is_removed_where_the_package_is_there(tmp_path: Path) -> None:
    """It was killed after the package was in place: the next is refused, and the temporary folder is gone."""
    (tmp_path / "drops.zip").touch()
    (tmp_path / ".drops.zip.0123456789ab.part" / "drops").mkdir(parents=True)
    with pytest.raises(FormatError, match="this already exists"):
        make_package(
            PackagePlan(tests=[tmp_path / "T1"], checked_by="lab"),
            tmp_path / "drops.zip",
        )
    assert [path.name for path in tmp_path.iterdir()] == ["drops.zip"]
