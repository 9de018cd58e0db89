"""Every code block of README, DEVELOPERS.md and docs is run, or says why it is not."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from tests.docs import shell
from tests.docs.blocks import ALL, KEYS, ROOT, RUN, SHOWN, Block, blocks_of
from tests.docs.demo_project import shared_demo
from tests.docs.givens import GIVENS
from tests.docs.running import assert_printed, desk, run_page, runs

if TYPE_CHECKING:
    from pathlib import Path

BLOCKS = [block for blocks in ALL.values() for block in blocks]
PAGES = [page for page, blocks in ALL.items() if any(map(runs, blocks))]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the folder that all pages share."""
    return desk(shared_demo(tmp_path_factory), tmp_path_factory.mktemp("desk"))


@pytest.mark.parametrize("name", PAGES)
def test_a_reader_can_run_the_blocks_of_the_page(
    name: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From top to bottom, every block works, and prints what the page says it prints."""
    monkeypatch.setenv("COLUMNS", "110")
    # What a person types in who is asked.
    monkeypatch.setenv("CORRELATE_KEY_PASSPHRASE", "drop tower, north wall")
    run_page(ALL[name], folder)


def test_every_block_is_run_or_says_why_not() -> None:
    """A block shows something, is run here or elsewhere, or has its reason above it; none is forgotten."""
    counted = {"run": 0, "run by": 0, "not run": 0, "shown": 0}
    forgotten = []
    for block in BLOCKS:
        if runs(block):
            counted["run"] += 1
        elif block.language in RUN or block.language not in SHOWN:
            mark = next((mark for mark in ("run by", "not run") if block.marks.get(mark)), None)
            if mark is None:
                forgotten.append(f"{block.place} ({block.language or 'no language'})")
            else:
                counted[mark] += 1
        else:
            counted["shown"] += 1
    assert forgotten == []
    assert sum(counted.values()) == len(BLOCKS)
    assert counted["run"] > counted["not run"]


def test_blocks_that_are_run_elsewhere_are() -> None:
    """The named test is there and reads the page."""
    for block in BLOCKS:
        if "run by" in block.marks:
            test = (ROOT / block.marks["run by"]).read_text(encoding="utf-8")
            assert block.page.rsplit("/", 1)[-1].removesuffix(".md") in test, block.place


def test_commands_that_are_not_run_are_at_least_commands() -> None:
    """Every ``correlate`` command on every page exists, with every option it is given."""
    wrong = {
        block.place: unknown
        for block in BLOCKS
        if block.language == "sh"
        for words in shell.commands(block)
        if words[0].rsplit("/", 1)[-1] == "correlate" and (unknown := shell.unknown_options(words[1:]))
    }
    assert wrong == {}


def test_toml_is_toml() -> None:
    """Every example of a file can be read."""
    for block in BLOCKS:
        if block.language == "toml":
            tomllib.loads(block.text)


def test_what_is_given_can_be_given() -> None:
    """Names above blocks are known, and none is kept that no page needs."""
    asked = {name for block in BLOCKS for name in block.marks.get("given", "").split(", ") if name}
    assert asked == set(GIVENS)


def test_marks_are_read_and_remarks_are_not() -> None:
    """Marks stand directly above the fence, several lines of them; other comments mean nothing."""
    comments = [
        "<!-- not run: far away -->",
        "",
        "<!-- given: a, b -->",
        "<!-- a remark -->",
        "<!-- printed -->",
    ]
    text = "\n".join([*comments, "```sh", "x", "```"])
    (block,) = blocks_of(text, "page.md")
    assert block.marks == {"given": "a, b", "printed": ""}
    assert set(block.marks) < KEYS
    assert (block.place, block.text) == ("page.md:6", "x\n")


def test_a_block_without_an_end_is_refused() -> None:
    """The rest of a page is not swallowed."""
    with pytest.raises(ValueError, match=r"page\.md:2: the block does not end"):
        blocks_of("one\n```sh\nls\n", "page.md")


@pytest.mark.parametrize(
    ("said", "printed"),
    [("rating 0.5 good", "rating 0.6 good"), ("rating 0.5 good", "rating 0.5 poor"), ("a\n…\nb", "a c")],
)
def test_what_was_not_printed_is_noticed(said: str, printed: str) -> None:
    """Another number, another word and a missing part are told."""
    block = Block(page="page.md", line=1, language="text", text=said)
    with pytest.raises(AssertionError, match=r"page\.md:1: this was not printed"):
        assert_printed(block, printed)


def test_what_is_left_out_may_be_anything() -> None:
    """Parts around an ellipsis are looked for one by one, and a last digit may differ."""
    block = Block(page="page.md", line=1, language="text", text="a 0.500\n…\nz\n")
    assert_printed(block, "head\na 0.501 b\nz")


@pytest.mark.parametrize(
    ("words", "unknown"),
    [
        (["pair", "a", "b", "--cfc", "180"], []),
        (["pair", "a", "b", "--clas", "180"], ["--clas"]),
        (["bake", "a"], ["bake"]),
        (["tune", "propose", "a", "--run", "8"], ["--run"]),
    ],
)
def test_unknown_commands_and_options_are_told(words: list[str], unknown: list[str]) -> None:
    """The examination finds a wrong command, a wrong option, and both behind a group."""
    assert shell.unknown_options(words) == unknown


def test_a_command_that_fails_is_told(tmp_path: Path) -> None:
    """A block whose command ends with another exit code than 0 fails with what was said."""
    block = Block(page="page.md", line=1, language="sh", text="correlate verify nothing\n")
    with pytest.raises(AssertionError, match=r"page\.md:1: correlate verify nothing ended with 2"):
        shell.run(block, tmp_path)
