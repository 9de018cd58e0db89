"""The examples in docs/formats.md do what the page says."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from correlate.formats import read

PAGE = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """Return the examples in one language, in the order of the page."""
    return re.findall(rf"```{language}\n(.*?)```", PAGE, flags=re.DOTALL)


def test_examples_of_delimited_text_are_read(tmp_path: Path) -> None:
    """Both tables, with the numbers printed on the page."""
    english, german = (tmp_path / "english.csv", tmp_path / "german.csv")
    for path, text in zip((english, german), blocks("text")[:2], strict=True):
        path.write_text(text)
    recording = read(english)
    assert recording.details == {"Title": "thorax impact 2", "Reference temperature": "21.5"}
    assert recording.channel("sternum deflection").samples.tolist() == [0.0, -0.1, -0.3]
    assert recording.channel("probe acceleration").samples.tolist() == [0.02, -1.5, -3.25]
    force = read(german).only_channel()
    assert (force.unit, force.step_s, force.samples.tolist()) == ("kN", 5e-5, [0.01, 1.25, 3.5])


def test_example_of_a_test_folder_is_read(tmp_path: Path) -> None:
    """The three files on the page make a test."""
    (tmp_path / "Channel").mkdir()
    description, listing, channel = blocks("text")[-3:]
    (tmp_path / "KM0003.mme").write_text(description)
    (tmp_path / "Channel" / "KM0003.chn").write_text(listing)
    (tmp_path / "Channel" / "KM0003.001").write_text(channel)
    recording = read(tmp_path)
    assert recording.title == "head drop 3"
    signal = recording.channel("D0HEAD0000KMACX0")
    assert (signal.unit, signal.start_s, signal.step_s) == ("m/s^2", -0.05, 5e-5)
    assert signal.samples.tolist() == [0.25, -0.5, 1.75]


def test_example_of_an_added_format_passes_its_own_test(tmp_path: Path) -> None:
    """Module and test are taken from the page and run as they stand."""
    for name in ("counts_format.py", "test_counts_format.py"):
        [text] = [block for block in blocks("python") if block.startswith(f"# {name}\n")]
        (tmp_path / name).write_text(text)
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(tmp_path)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env=os.environ | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
        check=False,
    )
    assert done.returncode == 0, done.stdout
    assert "2 passed" in done.stdout
