"""The two committed example pairs: they are today's, small, and rate as the demo promises."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from click.testing import CliRunner

from correlate import read
from correlate.cli import main as correlate
from demo_pairs.examples import EXAMPLES, writing
from demo_pairs.examples.__main__ import main
from demo_pairs.examples.writing import write_examples
from demo_pairs.laboratory import record

if TYPE_CHECKING:
    from collections.abc import Callable

COMMITTED = Path(writing.__file__).parent


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of the example folders by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for example in EXAMPLES
        for path in sorted((folder / example.name).rglob("*"))
        if path.is_file()
    }


def test_the_committed_files_are_those_that_are_computed(tmp_path: Path) -> None:
    """Writing them anew gives the same files, byte for byte, and leaves nothing beside them."""
    done = CliRunner().invoke(main, ["--into", str(tmp_path)])
    assert done.exit_code == 0, done.output
    assert contents(tmp_path) == contents(COMMITTED), "run python -m demo_pairs.examples"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["neck", "thorax"]


def test_they_are_small() -> None:
    """Together less than 600 kB."""
    files = contents(COMMITTED)
    assert len(files) == 18
    assert sum(map(len, files.values())) < 600_000


@pytest.mark.parametrize(("example", "samples"), [(EXAMPLES[0], 2901), (EXAMPLES[1], 4501)])
def test_the_test_is_a_cut_of_the_record(example: writing.Example, samples: int) -> None:
    """At each time of the cut the value is that of the whole record at that time, to half a count."""
    whole = record(example.load_case, 1)
    found = read(COMMITTED / example.name / "test" / whole.name)
    for signal, channel in zip(found.signals, whole.channels, strict=True):
        assert signal.channel == channel.code
        assert signal.samples.size == samples
        place = [round((time - whole.first_time) / whole.sampling_step) for time in signal.time_s]
        assert np.abs(signal.samples - channel.samples[place]).max() < 0.5 * channel.resolution


@pytest.fixture
def rated(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., float]:
    """Run ``correlate pair`` in the folder of the examples, as the page says, and give the rating."""

    def run(line: str, channel: str, candidate: str) -> float:
        words = ["correlate", "pair", *line.split(), "--channel", channel, "--candidate-channel", candidate]
        monkeypatch.chdir(COMMITTED)
        monkeypatch.setattr("sys.argv", [*words, "--json"])
        with pytest.raises(SystemExit, match=r"^0$"):
            correlate()
        return float(json.loads(capsys.readouterr().out)["overall"])

    return run


def test_the_thorax_pair_rates_good(rated: Callable[..., float]) -> None:
    """The sternum of A3 rates between 0.8 and 0.94, "good"."""
    files = "thorax/test/KELPM_TI01 thorax/model/thorax-impact.csv --turn-sign --cfc 180 --from 0 --to 60"
    assert 0.8 < rated(files, "D0CHST0003KMDSXP", "sternum compression") < 0.94


def test_the_neck_pair_rates_just_good(rated: Callable[..., float]) -> None:
    """The neck moment of A3 rates between 0.76 and 0.84, about where "fair" ends and "good" begins."""
    files = "neck/test/KELPM_NF01 neck/model/neck-flexion.csv --turn-sign --cfc 600 --from 0 --to 150"
    assert 0.76 < rated(files, "D0NECKUP00KMMOYP", "neck moment") < 0.84


def test_a_failed_solver_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the solver fails, its message is passed on and the earlier files stay whole."""
    (tmp_path / "thorax").mkdir()
    (tmp_path / "thorax" / "kept.txt").write_text("before", encoding="utf-8")

    def fail(*_: object) -> str:
        raise RuntimeError("the solver ended with code 1")

    monkeypatch.setattr(writing, "make_release", fail)
    with pytest.raises(RuntimeError, match="ended with code 1"):
        write_examples(tmp_path)
    assert [path.relative_to(tmp_path).as_posix() for path in sorted(tmp_path.rglob("*"))] == [
        "thorax",
        "thorax/kept.txt",
    ]
