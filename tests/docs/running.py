"""Runs all blocks of a page, one after another, as a reader does."""

from __future__ import annotations

import contextlib
import io
import re
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from tests.docs import shell
from tests.docs.blocks import ROOT, RUN, Block
from tests.docs.demo_project import NAME, copy_of
from tests.docs.givens import GIVENS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?![\w.]*\d)")


def runs(block: Block) -> bool:
    """Say whether a block is run here."""
    return block.language in RUN and not {"not run", "run by"} & set(block.marks)


def desk(demo: Path, folder: Path) -> Path:
    """Make the folder that blocks run in: projects, a test, and the examples of the checkout.

    Parameters
    ----------
    demo
        The shared project.
    folder
        Where.

    Returns
    -------
    Path
        The folder.
    """
    for name in (NAME, "my-project"):
        copy_of(demo, folder / name)
    # A project before its first campaign file, and one test folder.
    tests = demo / "laboratory" / "head-drop"
    shutil.copytree(tests, folder / "new-project" / "laboratory" / "head-drop")
    shutil.copytree(demo / "releases", folder / "new-project" / "releases")
    shutil.copytree(tests / "KELPM_HD01", folder / "KM0003")
    model = _one_channel(demo / "releases" / "A1" / "thorax-impact.csv")
    (folder / "model.csv").write_text(model, encoding="utf-8")
    (folder / "demo_pairs").mkdir()
    for name in ("examples", "decks"):
        (folder / "demo_pairs" / name).symlink_to(ROOT / "demo_pairs" / name)
    return folder


def _one_channel(file: Path) -> str:
    """Return times and the sternum alone, its sign as in the test."""
    rows = [line.split(",") for line in file.read_text(encoding="utf-8").splitlines()]
    column = next(place for place, name in enumerate(rows[0]) if "sternum" in name)
    return "".join(f"{row[0]},{row[column]}\n" for row in rows)


def run_page(blocks: Sequence[Block], folder: Path) -> None:
    """Run the blocks of a page; later Python blocks know the names of earlier ones.

    Parameters
    ----------
    blocks
        Of the page.
    folder
        From :func:`desk`.

    Raises
    ------
    AssertionError
        A block fails, or prints something else than the page says.
    """
    names: dict[str, Any] = {}
    printed = ""
    for block in blocks:
        if "saved as" in block.marks:
            (folder / block.marks["saved as"]).write_text(block.text, encoding="utf-8")
    for block in blocks:
        if "printed" in block.marks:
            assert_printed(block, printed)
        if not runs(block):
            continue
        with contextlib.chdir(folder):
            names |= {name: GIVENS[name]() for name in block.marks.get("given", "").split(", ") if name}
        at = folder / block.marks.get("run in", ".")
        printed = shell.run(block, at) if block.language == "sh" else _python(block, at, names)


def _python(block: Block, folder: Path, names: dict[str, Any]) -> str:
    out = io.StringIO()
    with contextlib.chdir(folder), contextlib.redirect_stdout(out):
        exec(compile(block.text, block.place, "exec"), names)  # noqa: S102 - our own page
    return out.getvalue()


def assert_printed(block: Block, printed: str) -> None:
    """Fail unless every part of a block was printed.

    Words must be the same, numbers nearly: the last digit may differ between machines.

    Parameters
    ----------
    block
        What the page shows; lines of ``…`` stand for what is left out.
    printed
        What the commands printed.

    Raises
    ------
    AssertionError
        Something else was printed.
    """
    words, numbers = _words_and_numbers(printed)
    for part in re.split(r"^…$", block.text, flags=re.MULTILINE):
        said, said_numbers = _words_and_numbers(part)
        places = [at for at in range(len(words) - len(said) + 1) if words[at : at + len(said)] == said]
        close = [
            at
            for at in places
            if _numbers_at(words, numbers, at, len(said_numbers))
            == pytest.approx(said_numbers, rel=0.05, abs=0.002)
        ]
        assert close, f"{block.place}: this was not printed:\n{part}\nbut:\n{printed[:3000]}"


def _words_and_numbers(text: str) -> tuple[list[str], list[float]]:
    flat = " ".join(text.replace("−", "-").split())
    numbers = [float(number) for number in _NUMBER.findall(flat)]
    return _NUMBER.sub("#", flat).split(), numbers


def _numbers_at(words: list[str], numbers: list[float], at: int, how_many: int) -> list[float]:
    before = sum(word.count("#") for word in words[:at])
    return numbers[before : before + how_many]
