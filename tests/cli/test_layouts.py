"""``correlate layout`` and ``--layout``: unknown text files from the first look to a rating."""

from __future__ import annotations

import json
import math
import os
import pty
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


def half_sine(ms: float, late: float, high: float) -> float:
    """Return a push of 30 ms."""
    return high * math.sin(math.pi * min(max((ms - late) / 30, 0), 1))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write two tests as semicolon text and solver output without units, and go there."""
    times = [0.1 * at for at in range(-100, 701)]
    for number, high in enumerate((4.0, 4.2), start=1):
        rows = [f"{ms:.1f};{half_sine(ms, 5, high):.6f}".replace(".", ",") for ms in times]
        (tmp_path / f"push{number}.txt").write_text("Zeit;Kraft\nms;kN\n" + "\n".join(rows) + "\n")
    rows = [f"{ms:12.4E}{half_sine(ms, 6, 3.9):12.4E}" for ms in times]
    text = "  push\n        time  contact_f\n" + "\n".join(rows) + "\n all ended well\n"
    (tmp_path / "push.out").write_text(text)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path


def test_in_a_pipe_open_questions_are_listed_as_options(correlate: Run, folder: Path) -> None:
    """Nothing is written, and the exit code says so; the listed options answer everything."""
    first = correlate("layout", "push.out")
    assert first.code == 1
    assert '--units "mm-ms-kg"' in first.out
    assert '--normal-end "all ended well"' in first.out
    assert not (folder / "layouts").exists()
    second = correlate("layout", "push.out", "--units", "mm-ms-kg", "--normal-end", "all ended well")
    assert (second.code, second.out.splitlines()[-1]) == (0, "written: layouts/push.toml")
    assert 'name = "contact_f", quantity = "force"' in (folder / "layouts" / "push.toml").read_text()
    again = correlate("layout", "push.out", "--accept")
    assert again.code == 2
    assert "already exists" in again.err


def test_a_file_that_is_read_anyway_needs_no_layout(correlate: Run, folder: Path) -> None:
    """It is shown as it is read; with --out one is written all the same."""
    shown = correlate("layout", "push1.txt")
    assert shown.code == 0
    assert "push1.txt can be read as delimited text, without a layout" in shown.out
    assert not (folder / "layouts").exists()
    assert correlate("layout", "push1.txt", "--out", "own.toml").code == 0
    assert (folder / "own.toml").exists()


def test_every_proposal_may_be_accepted_at_once(correlate: Run, folder: Path) -> None:
    """Only a question without a proposal stays open."""
    assert correlate("layout", "push.out", "--accept").code == 0
    (folder / "odd.dat").write_text("\n".join(f"{at} {at * at % 7}" for at in range(30)) + "\n")
    odd = correlate("layout", "odd.dat", "--accept")
    assert odd.code == 1
    assert '--column "column 2=…"' in odd.out
    done = correlate("layout", "odd.dat", "--accept", "--column", "column 2=mm", "--time", "column 1")
    assert done.code == 0


def test_a_layout_is_tried_without_a_campaign(correlate: Run, folder: Path) -> None:
    """The channels it gives are shown; an unfinished file is called so."""
    correlate("layout", "push.out", "--accept")
    tried = correlate("layout", "push.out", "--layout", "layouts/push.toml")
    assert (tried.code, "contact_f" in tried.out, "kN" in tried.out) == (0, True, True)
    text = (folder / "push.out").read_text().replace(" all ended well\n", "")
    (folder / "push.out").write_text(text)
    tried = correlate("layout", "push.out", "--layout", "layouts/push.toml")
    assert "Unfinished: push.out: the run is unfinished" in " ".join(tried.out.split())
    other = correlate("layout", "push1.txt", "--layout", "layouts/push.toml")
    assert (other.code, "no layout applies to a file of this name" in other.err) == (2, True)


def test_commands_read_tests_and_models_by_layouts(correlate: Run, folder: Path) -> None:
    """Pair, explain, repeats, check and convert, with one layout for each side."""
    assert correlate("layout", "push1.txt", "--out", "test.toml").code == 0
    assert correlate("layout", "push.out", "--accept").code == 0
    layouts = ("--layout", "test.toml", "--layout", "layouts/push.toml")
    names = ("--channel", "Kraft", "--candidate-channel", "contact_f", "--from", 0, "--to", 60)
    rated = json.loads(correlate("pair", "push1.txt", "push.out", *names, *layouts, "--json").out)
    assert rated["overall"] == pytest.approx(0.9, abs=0.09)
    assert rated["inputs"]["candidate"]["unit"] == "kN"
    assert correlate("explain", "push1.txt", "push.out", *names, *layouts).code == 0
    repeats = correlate(
        "repeats",
        "push1.txt",
        "push2.txt",
        "--model",
        "push.out",
        "--model-channel",
        "contact_f",
        *layouts,
        "--json",
    )
    assert repeats.code == 0
    assert correlate("check", "push1.txt", "push2.txt", *layouts).code in {0, 1}
    assert correlate("convert", "push.out", "push.csv", "--layout", "layouts/push.toml").code == 0
    (folder / "push.out").write_text((folder / "push.out").read_text().replace("all ended well", ""))
    unfinished = correlate("pair", "push1.txt", "push.out", *names, *layouts)
    assert unfinished.code == 2
    assert "the run is unfinished: 'all ended well' is not in its last lines" in unfinished.err


def test_in_a_terminal_it_asks(folder: Path) -> None:
    """An empty answer takes the proposal; a wrong one is asked again."""
    outer, inner = pty.openpty()
    asked = subprocess.Popen(
        [sys.executable, "-P", "-m", "correlate", "layout", "push.out"],
        stdin=inner,
        stdout=inner,
        stderr=inner,
        cwd=folder,
    )
    os.close(inner)
    os.write(outer, b"metres\nmm-ms-kg\n\n")
    said = b""
    while True:
        try:
            piece = os.read(outer, 4096)
        except OSError:
            break  # the other end is closed
        if not piece:
            break
        said += piece
    assert asked.wait() == 0
    assert b"'metres' is not a unit system of length, time and mass" in said
    written = (folder / "layouts" / "push.toml").read_text()
    assert 'units = "mm-ms-kg"' in written
    assert 'normal_end = {text = "all ended well"}' in written
