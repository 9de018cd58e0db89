"""The code blocks of README, DEVELOPERS.md and docs, with what the comment above each says about running it.

Comments stand directly above a block, one per line::

    <!-- not run: REASON -->            it cannot run here
    <!-- run by: tests/FILE.py -->      another test runs it
    <!-- run in: FOLDER -->             the folder to be in
    <!-- where: WORD = VALUE, … -->     words of a command that stand for something of the reader's
    <!-- saved as: FILE -->             an example of a file that other blocks of the page need
    <!-- given: NAME, … -->             what a Python block takes for granted; `givens.py` makes it
    <!-- exit code: N -->               of the last command
    <!-- printed -->                    what the commands above print; … stands for what is left out
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
RUN: Final = frozenset({"sh", "python"})
SHOWN: Final = frozenset(
    {"text", "output", "toml", "{toctree}", "{eval-rst}", "{command-help}", "{literalinclude}"}
)
"""Languages of blocks that show something, and directives of the build; TOML is read."""
KEYS: Final = frozenset({"not run", "run by", "run in", "where", "given", "exit code", "printed", "saved as"})

_FENCE = re.compile(r"^```(\S*)")
_COMMENT = re.compile(r"^<!-- (.+?)(?:: (.*))? -->$")


@dataclass(frozen=True, kw_only=True)
class Block:
    """One code block.

    Attributes
    ----------
    page
        Relative to the top of the tree.
    line
        Of the fence.
    language
        Word behind the fence.
    text
        Content.
    marks
        What the comments above it say.
    """

    page: str
    line: int
    language: str
    text: str
    marks: dict[str, str] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """Where it stands."""
        return f"{self.page}:{self.line}"


def pages() -> list[Path]:
    """Return every page."""
    return [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def blocks_of(text: str, page: str) -> list[Block]:
    """Take the blocks out of a page.

    Raises
    ------
    ValueError
        A block does not end.
    """
    found: list[Block] = []
    lines = text.splitlines()
    start: int | None = None
    for number, line in enumerate(lines):
        fence = _FENCE.match(line)
        if fence is None:
            continue
        if start is None:
            start, language = number, fence[1]
        else:
            content = "\n".join(lines[start + 1 : number]) + "\n"
            marks = _marks_above(lines, start)
            found.append(Block(page=page, line=start + 1, language=language, text=content, marks=marks))
            start = None
    if start is not None:
        raise ValueError(f"{page}:{start + 1}: the block does not end")
    return found


def _marks_above(lines: list[str], fence: int) -> dict[str, str]:
    marks: dict[str, str] = {}
    for line in reversed(lines[:fence]):
        comment = _COMMENT.match(line)
        if comment is None:
            break
        if comment[1] in KEYS:
            marks[comment[1]] = comment[2] or ""
    return marks


ALL: Final = {
    str(page.relative_to(ROOT)): blocks_of(page.read_text(encoding="utf-8"), str(page.relative_to(ROOT)))
    for page in pages()
}
"""Every block, by page."""
