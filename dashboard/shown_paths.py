"""Paths of the server stay on the server: what leaves it names files from the project folder on.

The sentences of errors and the commands on pages name files by their whole path, which helps the person at
the machine. On a server with accounts every text that is answered passes here: the project folder is written
by its name, and other folders of the server as ``…``.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from flask import request
from markupsafe import escape

from dashboard import paths
from dashboard.access.gate import ASSETS, COMPONENTS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from dash import Dash
    from flask import Response

ELSEWHERE: Final = "…"
"""In place of a folder outside of the project."""

_TEXTS: Final = frozenset({"application/json", "text/html", "text/plain", "text/csv"})
_FILES_OF_OURS: Final = frozenset({ASSETS, COMPONENTS})
_OURS: Final = frozenset(
    {f"/{path.split('/')[1]}" for path in (paths.MEDIA, paths.REPORT, paths.ACCOUNT, paths.DATA)}
)
"""First parts of addresses of this server, which are no folders."""

_SLASHES: Final = ("/", r"\u002f", r"\/")
"""As JSON writes it, which may become a part of a page."""

_SLASH: Final = f"(?:{'|'.join(map(re.escape, _SLASHES))})"

# What comes before a path; an encoded curve is none, and neither is the rest of a longer path.
_START: Final = r'(?<!"bdata":")(?:(?<![\w.+/\-])|(?<=\\n)|(?<=\\t))'

_END: Final = r"(?![\w\-]|\.\w)"
"""What does not follow: the rest of a longer name."""


class ShownPaths:
    """Writes the folders of a server as they may be seen.

    Parameters
    ----------
    project
        Folder of the project.
    others
        Further folders of the server, for instance of a database.

    Examples
    --------
    >>> shown = ShownPaths(Path("/srv/data/kelp"), [Path("/srv/store")])
    >>> shown("/srv/data/kelp/drop.csv: there is no such file; see /srv/store/a.sqlite")
    'drop.csv: there is no such file; see …/a.sqlite'
    >>> shown("correlate score /srv/data/kelp")
    'correlate score kelp'
    """

    def __init__(self, project: Path, others: Iterable[Path] = ()) -> None:
        folders = {project, project.resolve()}
        within = _written(folders)
        self._within = _either(within)
        self._name = project.resolve().name
        rest = {*others, *_folders_of_the_program(), *(folder.parent for folder in folders)}
        elsewhere = _written({one for one in rest if len(one.parts) > 1 and str(one) not in _OURS})
        self._elsewhere = _either(elsewhere)
        self._ends = sorted(
            {slash + one.rpartition("/")[2] for one in within | elsewhere for slash in _SLASHES}
        )

    def __call__(self, text: str) -> str:
        """Return a text without the folders of the server."""
        # Most answers name none, and the patterns take a fifth of a second for each million characters.
        if not any(end in text for end in self._ends):
            return text
        text = re.sub(rf"{_START}{self._within}{_SLASH}(?=[^\s/])", "", text)
        text = re.sub(rf"{_START}{self._within}{_END}", lambda _: self._name, text)
        return re.sub(rf"{_START}{self._elsewhere}{_END}", ELSEWHERE, text)


def show_no_paths(app: Dash, shown: Callable[[str], str]) -> None:
    """Let every text that the server answers pass through a function."""

    def without_paths(response: Response) -> Response:
        if (
            response.mimetype in _TEXTS
            and request.endpoint not in _FILES_OF_OURS
            and not response.is_streamed
        ):
            before = response.get_data(as_text=True)
            after = shown(before)
            if after != before:
                response.set_data(after)
        return response

    app.server.after_request(without_paths)


def _folders_of_the_program() -> set[Path]:
    """Return where program, libraries, temporary files and the account of the server are."""
    places = {Path(sys.prefix), Path(sys.base_prefix), Path(__file__).parents[1], Path(tempfile.gettempdir())}
    places |= {Path.cwd()}
    # The account of a server may have no home.
    with suppress(RuntimeError):
        places.add(Path.home())
    return places | {place.resolve() for place in places}


def _written(folders: Iterable[Path]) -> set[str]:
    """Return folders in every way that an answer writes them, with plain slashes."""
    return {
        form
        for folder in map(str, folders)
        # A picture is markup inside JSON.
        for text in (folder, str(escape(folder)))
        for form in (text, *_in_json(text))
    }


def _either(written: Iterable[str]) -> str:
    """Return a pattern for folders, the longest first."""
    patterns = [_SLASH.join(map(re.escape, one.split("/"))) for one in written]
    return "(?:" + "|".join(sorted(patterns, key=len, reverse=True)) + ")"


def _in_json(text: str) -> tuple[str, ...]:
    """Return a text as JSON writes it, with and without what could be taken for markup."""
    plain = (json.dumps(text)[1:-1], json.dumps(text, ensure_ascii=False)[1:-1])
    return (*plain, *(one.replace("<", r"\u003c").replace(">", r"\u003e") for one in plain))
