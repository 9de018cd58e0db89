"""The files of a campaign: what includes what."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic import BaseModel, ValidationError

from correlate.errors import FormatError
from correlate.evaluation.book.entries import Origin, texts
from correlate.evaluation.book.keys import CampaignBook, CaseBook, IncludedBook, without_cleared
from correlate.evaluation.tables import CampaignTable
from correlate.toml import Mistake, TomlSource, mistakes, parse_toml

if TYPE_CHECKING:
    from collections.abc import Iterable

READY_MADE: Final = "ready-made/"
"""What the name of a book begins with that comes with the program."""

READY_MADE_FOLDER: Final = Path(__file__).with_name("ready_made")


MOST_INCLUDED: Final = 200
"""Files in one list of included ones."""
DEEPEST: Final = 20
"""Files that include one another."""
_TOO_MANY: Final = f"more than {MOST_INCLUDED} files are included, or more than {DEEPEST} deep; join some"


class CampaignFiles:
    """A campaign file and every file that it includes, each once.

    Attributes
    ----------
    main
        The campaign file.
    books
        What it includes for all load cases: a file after those that it includes itself.
    mistakes
        Of every file by itself.
    """

    def __init__(self, main: TomlSource) -> None:
        self.main = main
        self.mistakes: list[Mistake] = []
        self._read: dict[Path, TomlSource] = {main.path.resolve(): main}
        self.books = self.included(Origin(main, ()), main.content)
        self.mistakes += _mistakes(main, _book_part(main.content), CampaignBook, CampaignTable)

    @property
    def all(self) -> tuple[TomlSource, ...]:
        """The campaign file and the others, in the order in which they were met."""
        return tuple(self._read.values())

    def included(self, origin: Origin, table: dict[str, Any]) -> list[TomlSource]:
        """Return the files that a table includes, a file after those that it includes itself."""
        found: dict[Path, TomlSource] = {}
        self._follow(origin, table, [self.main], found)
        return list(found.values())

    def _follow(
        self, origin: Origin, table: dict[str, Any], around: list[TomlSource], found: dict[Path, TomlSource]
    ) -> None:
        for index, name in texts(table, "include"):
            place = origin.at("include", index).place
            if index >= MOST_INCLUDED or len(around) > DEEPEST:
                self.mistakes.append(Mistake(place, _TOO_MANY))
                return
            try:
                file = self._file(_path(name, origin.file.path))
            except FormatError as error:
                self.mistakes.append(Mistake(place, f"'{name}' {error.what}"))
                continue
            if file in around:
                circle = " → ".join(one.path.name for one in [*around[around.index(file) :], file])
                self.mistakes.append(Mistake(place, f"the files include each other: {circle}; remove one"))
            elif file.path.resolve() not in found:
                self._follow(Origin(file, ()), file.content, [*around, file], found)
                found[file.path.resolve()] = file

    def _file(self, path: Path) -> TomlSource:
        """Read a file, or return it when it was read before."""
        known = self._read.get(path.resolve())
        if known is not None:
            return known
        file = parse_toml(path, kind="a channel book")
        self._read[path.resolve()] = file
        self.mistakes += _mistakes_of_book(file)
        return file


def _path(name: str, including: Path) -> Path:
    """Return the path of an included file, or of the ready-made book of that name."""
    if not name.startswith(READY_MADE):
        return including.parent / name
    known = sorted(path.stem for path in READY_MADE_FOLDER.glob("*.toml"))
    book = name.removeprefix(READY_MADE)
    if book not in known:
        raise FormatError(f"is not a ready-made book; known are {', '.join(known)}")
    return READY_MADE_FOLDER / f"{book}.toml"


def _mistakes_of_book(file: TomlSource) -> list[Mistake]:
    """Return the mistakes of an included file, one of a table that belongs into the campaign file."""
    foreign = [key for key in file.content if key in _CAMPAIGN_ONLY]
    words = "this belongs in the campaign file; an included file may contain " + ", ".join(
        IncludedBook.model_fields
    )
    found = [Mistake(file.place((key,)), words) for key in foreign]
    rest = {key: value for key, value in file.content.items() if key not in foreign}
    return found + _mistakes(file, _cleared(rest), IncludedBook)


_CAMPAIGN_ONLY: Final = {*CampaignTable.model_fields, *CampaignBook.model_fields} - {
    *IncludedBook.model_fields
}


def _mistakes(file: TomlSource, content: dict[str, Any], *roots: type[BaseModel]) -> list[Mistake]:
    try:
        roots[0].model_validate(content)
    except ValidationError as error:
        return mistakes(error, content, file.place, *roots)
    return []


def _book_part(content: dict[str, Any]) -> dict[str, Any]:
    """Return what of a campaign file is expanded and does not stand in its plain tables."""
    part = _only(content, set(CampaignBook.model_fields) - {"load_case"})
    cases = content.get("load_case")
    if isinstance(cases, list):
        part["load_case"] = [
            _cleared(_only(case, CaseBook.model_fields)) if isinstance(case, dict) else {} for case in cases
        ]
    return _cleared(part)


def _only(table: dict[str, Any], keys: Iterable[str]) -> dict[str, Any]:
    return {key: table[key] for key in keys if key in table}


def _cleared(table: dict[str, Any]) -> dict[str, Any]:
    """Return a table with its channels, defaults and overrides without the values that only clear."""
    return table | {
        key: [without_cleared(one) if isinstance(one, dict) else one for one in table[key]]
        for key in ("channel", "default", "override")
        if isinstance(table.get(key), list)
    }
