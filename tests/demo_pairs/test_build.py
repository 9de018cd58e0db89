"""The project folder: what is built, that it is the same twice, and that nothing of the user is lost."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from correlate import read
from demo_pairs import build as building
from demo_pairs.__main__ import main
from demo_pairs.build import BuildError, BuildSelection, build
from tests.demo_pairs.measuring import records

SMALL = BuildSelection(cases=("head-drop",), releases=("A1",))


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build a small project: one load case, one release."""
    folder = tmp_path_factory.mktemp("demo") / "project"
    assert build(folder, SMALL)
    return folder


def test_layout(built: Path) -> None:
    """Five test folders, one release file, the deck and its log, the planted fault and the manifest."""
    tests = sorted(path.name for path in (built / "laboratory" / "head-drop").iterdir())
    assert tests == [f"KELPM_HD0{repeat}" for repeat in range(1, 6)]
    assert sorted(path.name for path in (built / "releases" / "A1").iterdir()) == [
        "A1.deck",
        "head-drop.csv",
        "run.log",
    ]
    assert sorted(path.name for path in (built / "planted_faults").iterdir()) == [
        "manifest.toml",
        "saturation",
    ]
    assert not [path for path in built.parent.iterdir() if path != built]


def test_written_test_reads_back(built: Path) -> None:
    """Codes, unit, time base and samples of a written test are those of the record, to half a count."""
    test = records("head-drop")[2]
    found = read(built / "laboratory" / "head-drop" / test.name)
    assert [signal.channel for signal in found.signals] == [channel.code for channel in test.channels]
    for signal, channel in zip(found.signals, test.channels, strict=True):
        assert signal.unit == channel.unit
        assert (signal.start_s, signal.step_s) == (-0.05, 5e-5)
        assert np.abs(signal.samples - channel.samples).max() < 0.5 * channel.resolution


def test_manifest_leads_to_the_faults(built: Path) -> None:
    """The manifest is TOML; file and channel of each entry exist."""
    manifest = tomllib.loads((built / "planted_faults" / "manifest.toml").read_text(encoding="utf-8"))
    (entry,) = manifest["fault"]
    assert entry["kind"] == "saturation"
    assert entry["channels"] == ["D0HEAD0000KMACXP"]
    (file,) = entry["files"]
    assert "D0HEAD0000KMACXP" in (built / "planted_faults" / file).read_text(encoding="latin-1")
    assert entry["test"] in file


def test_same_bytes_twice(built: Path, tmp_path: Path) -> None:
    """A second build elsewhere gives the same files, byte for byte."""
    assert build(tmp_path / "again", SMALL)
    assert contents(tmp_path / "again") == contents(built)


def test_nothing_to_do_when_current(built: Path) -> None:
    """The same selection is not built again, a larger one would be."""
    before = contents(built)
    assert not build(built, SMALL)
    assert contents(built) == before
    assert not building.is_current(built, BuildSelection.of(releases=["A1"]))
    assert not building.is_current(built, BuildSelection.of(cases=["head-drop"]))


def test_changed_code_means_building_again(built: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With another fingerprint of the code the folder no longer counts as current."""
    assert building.is_current(built, SMALL)
    monkeypatch.setattr(building, "fingerprint", lambda: "other")
    assert not building.is_current(built, SMALL)


def test_files_of_the_user_stay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Building again replaces what the demo made and leaves other files alone."""
    folder = tmp_path / "project"
    monkeypatch.setattr(building, "_run_jobs", lambda _jobs, into, _progress: (into / "releases").mkdir())
    build(folder, SMALL)
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    (folder / "releases" / "stale.csv").write_text("old", encoding="utf-8")
    monkeypatch.setattr(building, "fingerprint", lambda: "newer")
    assert build(folder, SMALL)
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert not (folder / "releases" / "stale.csv").exists()
    assert building.is_current(folder, SMALL)


@pytest.mark.parametrize("moves", [0, 1, 2, 3])
def test_an_interrupted_move_is_repaired_by_building_again(
    moves: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After any number of moves the folder still is that of the demo, and not current."""
    folder = tmp_path / "project"
    monkeypatch.setattr(building, "_run_jobs", lambda _jobs, into, _progress: (into / "releases").mkdir())
    build(folder, SMALL)
    monkeypatch.setattr(building, "fingerprint", lambda: "newer")
    replace, left = Path.replace, iter(range(moves))

    def stopped(path: Path, target: Path) -> Path:
        if next(left, None) is None:
            raise KeyboardInterrupt
        return replace(path, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", stopped)
        with pytest.raises(KeyboardInterrupt):
            build(folder, SMALL)
    assert build(folder, SMALL)
    assert building.is_current(folder, SMALL)
    assert [path.name for path in tmp_path.iterdir()] == ["project"]


def test_campaign_file_is_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A campaign file that lies beside the code lands at the top of the project."""
    (tmp_path / "campaign.toml").write_text("title = 'x'\n", encoding="utf-8")
    monkeypatch.setattr(building, "HERE", tmp_path)
    monkeypatch.setattr(building, "_run_jobs", lambda *_: None)
    build(tmp_path / "project", SMALL)
    assert (tmp_path / "project" / "campaign.toml").read_text(encoding="utf-8") == "title = 'x'\n"


def test_foreign_folder_is_refused(tmp_path: Path) -> None:
    """A folder with something else in it is left alone and named."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(BuildError, match=r"holds something that this demo did not make; name a new or empty"):
        build(tmp_path, SMALL)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_failed_job_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the solver refuses a deck, its message is passed on and no folder appears."""
    (tmp_path / "decks").mkdir()
    (tmp_path / "decks" / "A1.deck").write_text("[deck]\nname = A1\n", encoding="utf-8")
    monkeypatch.setattr(building, "DECKS", tmp_path / "decks")
    with pytest.raises(BuildError, match=r"A1\.deck: parameter 'head_skin_modulus' is missing"):
        build(tmp_path / "project", SMALL)
    assert [path.name for path in tmp_path.iterdir()] == ["decks"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--case", "head-dorp"], "Error: there is no load case 'head-dorp'; there are head-drop, "),
        (["--release", "B7"], "Error: there is no release 'B7'; there are A1, A2, A3"),
    ],
)
def test_command_refuses_unknown_names(tmp_path: Path, words: list[str], message: str) -> None:
    """A wrong name gives one line with the known ones, and no folder."""
    done = CliRunner().invoke(main, ["--into", str(tmp_path / "project"), *words])
    assert done.exit_code == 1
    assert message in done.output
    assert not (tmp_path / "project").exists()


def test_command_says_when_there_is_nothing_to_do(built: Path) -> None:
    """The command line reports a folder that is up to date."""
    done = CliRunner().invoke(main, ["--into", str(built), "--case", "head-drop", "--release", "A1"])
    assert done.exit_code == 0
    assert done.output.strip() == f"{built}: is up to date"


def test_selection_defaults_to_everything() -> None:
    """Without names all eight load cases and three releases are chosen."""
    everything = BuildSelection.of()
    assert len(everything.cases) == 8
    assert everything.releases == ("A1", "A2", "A3")


def test_record_names_are_unique() -> None:
    """No two tests of the laboratory have the same name."""
    names = [test.name for case in BuildSelection.of().cases for test in records(case)]
    assert len(set(names)) == len(names) == 34
