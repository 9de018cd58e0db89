"""Finding an entry by a name that a person typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping

Entry = TypeVar("Entry")


def named_entry(name: str, entries: Mapping[str, Entry], *, word: str, of: str = "") -> Entry:
    """Return the entry of a name, or of a begin or part of a name that fits one alone.

    Parameters
    ----------
    name
        Capitals do not matter.
    entries
        By their whole names.
    word
        What an entry is, for messages.
    of
        What the entries belong to, for messages.

    Returns
    -------
    object

    Raises
    ------
    SettingsError
        No entry fits, or several; the message lists them.

    Examples
    --------
    >>> named_entry("Knee", {"knee impact": 1, "head drop": 2}, word="test")
    1
    """
    wanted = name.strip().casefold()
    for known, entry in entries.items():
        if known.casefold() == wanted:
            return entry
    fitting = [known for known in entries if wanted and wanted in known.casefold()]
    beginning = [known for known in fitting if known.casefold().startswith(wanted)]
    for alone in (beginning, fitting):
        if len(alone) == 1:
            return entries[alone[0]]
    owner = f" of {of}" if of else ""
    what = f"'{name}' fits several {word}s{owner}" if fitting else f"there is no {word} '{name}'{owner}"
    listed = "; ".join(f"'{known}'" for known in fitting or entries)
    raise SettingsError(what, remedy=f"choose one of {listed}")
