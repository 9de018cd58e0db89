"""``correlate convert``: any format in, those that are written out, nothing overwritten."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.formats import read
from tests.campaign.conftest import CAMPAIGN
from tests.evaluation.test_layout_table import LAYOUTS
from tests.formats.archive.outside import OUTSIDE, made_of, plain_archive
from tests.formats.examples import HEAD, HEAD_FILE, written_test

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.mark.parametrize(
    ("name", "format_name"),
    [
        ("KM4", "ISO/TS 13499"),
        ("KM4.zip", "ISO/TS 13499"),
        ("KM4.h5", "HDF5 archive"),
        ("KM4.HDF5", "HDF5 archive"),
    ],
)
def test_the_ending_says_the_format(name: str, format_name: str, correlate: Run, tmp_path: Path) -> None:
    """The samples are those of the original, and what was written is said."""
    source = written_test(tmp_path)
    outcome = correlate("convert", source, tmp_path / name)
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out == f"written: {tmp_path / name}, {format_name}, 2 channels\n"
    recording = read(tmp_path / name)
    assert recording.format == format_name
    assert recording.channel(HEAD).samples.tolist() == [0.0, -1.5, 25.0, 3.0]


def test_text_goes_through_an_archive_and_back(
    correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path
) -> None:
    """Two columns out of delimited text, into an archive, into delimited text again."""
    test, _ = pulse_files
    assert correlate("convert", test, tmp_path / "a.h5").code == 0
    assert correlate("convert", tmp_path / "a.h5", tmp_path / "b.csv").code == 0
    assert correlate("convert", tmp_path / "a.h5", tmp_path / "b.dat", "--format", "Delimited Text").code == 0
    expected = np.loadtxt(test, delimiter=",", skiprows=1)
    for name in ("b.csv", "b.dat"):
        recording = read(tmp_path / name)
        assert np.array_equal(recording.channel("force").samples, expected[:, 1])
        assert np.array_equal(recording.channel("deflection").samples, expected[:, 2])


def test_notes_of_the_reader_are_passed_on(correlate: Run, tmp_path: Path) -> None:
    """What was accepted but looks odd is said beside the result."""
    source = written_test(tmp_path, _003=HEAD_FILE)
    outcome = correlate("convert", source, tmp_path / "a.h5")
    assert outcome.code == 0
    assert "note: " in outcome.err
    assert "KM3.003: the channel is not in the list and was not read" in outcome.err


def test_columns_are_read_by_a_layout_of_a_campaign(correlate: Run, tmp_path: Path) -> None:
    """Blocks of solver output become an archive that needs no layout any more."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN + LAYOUTS, encoding="utf-8")
    source = tmp_path / "run.out"
    source.write_text("x at time 0.0 s\n     4      1.5\nx at time 0.1 s\n     4     -2.5\n")
    options = ("--campaign", tmp_path, "--layout", "nodes")
    outcome = correlate("convert", source, tmp_path / "run.h5", *options)
    assert outcome.out == f"written: {tmp_path / 'run.h5'}, HDF5 archive, 1 channel\n"
    assert read(tmp_path / "run.h5").channel("node 4 x").samples.tolist() == [1.5, -2.5]


@pytest.mark.parametrize(
    ("target", "options", "sentence"),
    [
        (
            "a.dat",
            (),
            "a.dat: the suffix '.dat' belongs to no format; name one under --format: 'HDF5 archive', ",
        ),
        (
            "a.h5",
            ("--format", "punch cards"),
            "the format 'punch cards' cannot be written; name one under --format: 'HDF5",
        ),
        (
            "a.h5",
            ("--layout", "nodes.toml"),
            "nodes.toml: cannot be read (No such file or directory); name a layout file",
        ),
        ("none/a.h5", (), "a.h5: this cannot be written (No such file or directory); choose a folder"),
        (
            "a.csv",
            (),
            "a.csv: 'S0SEAT0000KMACZ0' and 'D0HEAD0000KMACX0' have different times; resample them to one",
        ),
    ],
)
def test_what_cannot_be_written_is_refused_and_nothing_is_left(
    target: str, options: tuple[str, ...], sentence: str, correlate: Run, tmp_path: Path
) -> None:
    """One sentence, exit code 2, no file."""
    source = written_test(tmp_path)
    outcome = correlate("convert", source, tmp_path / target, *options)
    assert outcome.code == 2
    assert outcome.err.startswith("correlate: ")
    assert sentence in outcome.err
    assert outcome.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == [source]


def test_an_unknown_layout_is_refused_with_those_there_are(correlate: Run, tmp_path: Path) -> None:
    """With a campaign that has some, and one that has none."""
    file = tmp_path / "campaign.toml"
    for text, known in ((CAMPAIGN + LAYOUTS, "it has history, nodes"), (CAMPAIGN, "it has none")):
        file.write_text(text, encoding="utf-8")
        options = ("--campaign", file, "--layout", "points")
        outcome = correlate("convert", file, tmp_path / "a.h5", *options)
        assert outcome.code == 2
        assert f"campaign.toml: there is no layout 'points'; {known}" in outcome.err


def test_nothing_is_overwritten(correlate: Run, tmp_path: Path) -> None:
    """A file, a folder and a link that leads nowhere are left as they are."""
    source = written_test(tmp_path)
    (tmp_path / "a.h5").write_text("precious")
    (tmp_path / "b").mkdir()
    (tmp_path / "c.h5").symlink_to(tmp_path / "nowhere")
    for name in ("a.h5", "b", "c.h5"):
        outcome = correlate("convert", source, tmp_path / name)
        assert outcome.code == 2
        assert f"{name}: already exists; choose another name" in outcome.err
    assert (tmp_path / "a.h5").read_text() == "precious"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["KM3", "a.h5", "b", "c.h5"]


@pytest.mark.parametrize("way", OUTSIDE)
def test_an_archive_made_of_another_file_is_refused(way: str, correlate: Run, tmp_path: Path) -> None:
    """Neither converting nor checking reads another project through it, and nothing is written."""
    plain_archive(tmp_path / "other/secret.h5", seed=1)
    made = made_of(tmp_path / "other/secret.h5", tmp_path / "a.h5", way)
    converted = correlate("convert", made, tmp_path / "b.h5")
    assert (converted.code, converted.out) == (2, "")
    assert f"{made}: {OUTSIDE[way][1]}" in converted.err
    assert not (tmp_path / "b.h5").exists()
    checked = correlate("check", made)
    assert checked.code != 0
    assert OUTSIDE[way][1] in checked.out + checked.err
