"""On which line each key of a TOML file stands, for messages that name it.

The TOML reader of the standard library checks the file but forgets its lines. This scan trusts that check
and only looks for table headers and keys.
"""

from __future__ import annotations

import re
from typing import Final

Path = tuple[str | int, ...]

_HEADER: Final = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY: Final = re.compile(r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")
_STRING: Final = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*')


def key_lines(text: str) -> dict[Path, int]:
    r"""Map each table and key to the line it stands on.

    Parameters
    ----------
    text
        A valid TOML file.

    Returns
    -------
    dict
        From the path of a table or key, with indices from 0 for entries of arrays of tables, to its
        line, counted from 1.

    Examples
    --------
    >>> key_lines("[a]\nb = 1\n[[c]]\nd = 2\n[[c]]\nd = 3")[("c", 1, "d")]
    6
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    depth = 0
    closing = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if not closing and depth == 0:
            header = _HEADER.match(line)
            if header:
                table = _open(_parts(header[2]), counts, is_array=header[1] == "[[")
                lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key:
                lines.setdefault((*table, *_parts(key[1])), number)
        depth, closing = _after(line, depth, closing)
    return lines


def line_of(path: Path, lines: dict[Path, int]) -> int | None:
    """Return the line of a key, or of the nearest table around it.

    Parameters
    ----------
    path
        Where a mistake was found.
    lines
        From ``key_lines``.

    Returns
    -------
    int or None
        None when nothing around it has a line.
    """
    for size in range(len(path), 0, -1):
        if path[:size] in lines:
            return lines[path[:size]]
    return None


def _parts(dotted: str) -> Path:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _open(parts: Path, counts: dict[Path, int], *, is_array: bool) -> Path:
    """Return the full path of a table header, with the index of every array of tables it lies in."""
    path: Path = ()
    for position, part in enumerate(parts, start=1):
        path = (*path, part)
        if is_array and position == len(parts):
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _after(line: str, depth: int, closing: str) -> tuple[int, str]:
    """Return how many brackets are open after a line, and which long string."""
    position = 0
    while position < len(line):
        if closing:
            end = line.find(closing, position)
            if end < 0:
                return depth, closing
            position, closing = end + 3, ""
            continue
        match = _STRING.search(line, position)
        plain = line[position : match.start() if match else len(line)]
        depth += plain.count("[") + plain.count("{") - plain.count("]") - plain.count("}")
        if match is None or match[0].startswith("#"):
            break
        if match[0] in {'"""', "'''"}:
            closing = match[0]
        position = match.end()
    return max(depth, 0), closing
