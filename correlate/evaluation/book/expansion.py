"""The plain tables of a campaign, with the channels of every load case written out.

What is written out keeps the place it was written at, so that a mistake is found where it stands. Validation
comes afterwards: here, what is malformed is skipped.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from correlate.evaluation.book.entries import Entry, Origin, entries, fits, texts
from correlate.evaluation.book.files import CampaignFiles
from correlate.evaluation.book.keys import CampaignBook, CaseBook, without_cleared
from correlate.evaluation.book.usual import CHOOSING, defaults_for, usual_settings
from correlate.evaluation.tables import ChannelSettings
from correlate.toml import Mistake

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from correlate.toml import KeyPath, Place, TomlSource


@dataclass(frozen=True, slots=True)
class Merged:
    """A channel of a load case with everything that is said of it.

    Attributes
    ----------
    entry
        Where it is defined.
    values
        Of all its keys.
    origins
        Where each value stands.
    """

    entry: Entry
    values: dict[str, Any]
    origins: dict[str, Origin]

    def then(self, changes: Iterable[Entry], *, leave_out: tuple[str, ...]) -> Merged:
        """Return it with the known keys of further entries, the last of which wins."""
        values, origins = dict(self.values), dict(self.origins)
        for change in changes:
            for key, value in change.values.items():
                if key in ChannelSettings.model_fields and key not in leave_out:
                    values[key], origins[key] = value, change.origin.at(key)
        return Merged(self.entry, values, origins)

    def is_overridden(self, keys: Iterable[str]) -> bool:
        """Say whether an override of the load case gives one of some keys."""
        return any("override" in self.origins[key].key for key in keys if key in self.origins)


@dataclass(slots=True)
class Expansion:
    """A campaign written out.

    Attributes
    ----------
    files
        What it was read from.
    content
        Tables as if there were no book.
    channels
        Those of each load case, by its index.
    mistakes
        Of the files by themselves, and of what is expanded.
    """

    files: CampaignFiles
    content: dict[str, Any]
    channels: dict[int, list[Merged]] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    origins: dict[KeyPath, Origin] = field(default_factory=dict)

    def place(self, key: KeyPath) -> Place:
        """Return where a key of the written-out content stands."""
        for size in range(len(key), 0, -1):
            if key[:size] in self.origins:
                return self.origins[key[:size]].at(*key[size:]).place
        return self.files.main.place(key)

    def takes_whole_book(self, index: int) -> bool:
        """Say whether a load case takes all there is in the book because it names nothing."""
        channels = self.channels.get(index, [])
        picks = [(*_case_key(index), key) in self.origins for key in _PICKS]
        own = self.files.main.content["load_case"][index]
        return bool(channels) and not any(picks) and not {"channel", *_PICKS} & set(own)


def expand(main: TomlSource) -> Expansion:
    """Write a campaign file out.

    Parameters
    ----------
    main
        The file.

    Returns
    -------
    Expansion
    """
    files = CampaignFiles(main)
    content = {key: value for key, value in main.content.items() if key not in _BOOK_ONLY}
    found = Expansion(files, content)
    found.mistakes += files.mistakes
    book = _Book(files, found)
    if isinstance(content.get("load_case"), list):
        content["load_case"] = [
            _Case(found, book, index, case).written_out() if isinstance(case, dict) else case
            for index, case in enumerate(content["load_case"])
        ]
    # Mistakes of files that only a load case includes are known only now.
    found.mistakes += [one for one in files.mistakes if one not in found.mistakes]
    _add_layouts(found)
    _add_regions(found)
    return found


_BOOK_ONLY = set(CampaignBook.model_fields) - {"load_case"}
_CASE_ONLY = set(CaseBook.model_fields)
_PICKS = ("channels", "regions")


def _case_key(index: int) -> KeyPath:
    return ("load_case", index)


class _Book:
    """Channels and defaults for all load cases: those of included files, then those of the campaign file."""

    def __init__(self, files: CampaignFiles, found: Expansion) -> None:
        self.channels: dict[str, Entry] = {}
        self.defaults: list[Entry] = []
        for file in [*files.books, files.main]:
            origin = Origin(file, ())
            self.defaults += entries(file.content, "default", origin)
            for channel in entries(file.content, "channel", origin):
                if channel.name in self.channels:
                    first = self.channels[channel.name].origin.place
                    words = f"channel '{channel.name}' is defined twice; {_there(first, channel)}; remove one"
                    found.mistakes.append(Mistake(channel.origin.place, words))
                elif channel.name:
                    self.channels[channel.name] = channel


def _there(first: Place, second: Entry) -> str:
    """Say where the first of two entries stands, as seen from the second."""
    file = "" if first.file == second.origin.file.path else f"of {first.file.name}"
    return " ".join(part for part in ("the first is in line", str(first.line), file) if part)


class _Case:
    """A load case that is written out."""

    def __init__(self, found: Expansion, book: _Book, index: int, case: dict[str, Any]) -> None:
        self._found = found
        self._book = book
        self._key = _case_key(index)
        self._origin = Origin(found.files.main, self._key)
        self._case = dict(case)
        self._take_over()
        self._defaults = [
            *book.defaults,
            *self._included_defaults(),
            *entries(self._case, "default", self._origin),
        ]

    def _take_over(self) -> None:
        """Take over what holds for every load case and is not given here."""
        every = self._found.files.main.content.get("every_load_case")
        for key, value in every.items() if isinstance(every, dict) else ():
            if key not in self._case:
                self._case[key] = value
                self._found.origins[*self._key, key] = Origin(
                    self._found.files.main, ("every_load_case", key)
                )

    def _included_defaults(self) -> Iterator[Entry]:
        """Yield the defaults of the books that only this load case includes."""
        for file in self._found.files.included(self._origin, self._case):
            more = [key for key in file.content if key not in {"include", "default"}]
            if more:
                words = (
                    f"'{file.path.name}' holds {', '.join(more)}; include it at the top of the campaign file"
                )
                self._mistake(words, "include")
            yield from entries(file.content, "default", Origin(file, ()))

    def written_out(self) -> dict[str, Any]:
        """Return the load case with its channels, as if there were no book."""
        before = len(self._found.mistakes)
        written = {key: value for key, value in self._case.items() if key not in {*_CASE_ONLY, "channel"}}
        own = self._case.get("channel")
        if own is not None and not isinstance(own, list):
            return written | {"channel": own}
        channels = self._channels()
        picks_hold = len(self._found.mistakes) == before
        channels = self._overridden(channels, say_unused=picks_hold)
        self._found.channels[int(self._key[1])] = channels
        for number, channel in enumerate(channels):
            self._found.origins[*self._key, "channel", number] = channel.entry.origin
            for key, origin in channel.origins.items():
                self._found.origins[*self._key, "channel", number, key] = origin
        plain: list[Any] = [without_cleared(one.values) for one in channels]
        if plain or own is not None:
            written["channel"] = plain
        return written

    def _channels(self) -> list[Merged]:
        """Return the picked channels, in the order of the book, then those that are defined here."""
        own = [self._merged(entry) for entry in entries(self._case, "channel", self._origin)]
        book = [self._merged(entry) for entry in self._book.channels.values()]
        if own or set(_PICKS) & set(self._case):
            picked = self._picked(book)
            book = [one for one in book if one.entry.name in picked]
        names = {one.entry.name for one in book}
        for one in own:
            if one.entry.name in names:
                words = (
                    f"channel '{one.entry.name}' comes from the book as well; change it by an override "
                    "([[load_case.override]]), or do not pick it"
                )
                self._found.mistakes.append(Mistake(one.entry.origin.place, words))
        return [*book, *(one for one in own if one.entry.name not in names)]

    def _merged(self, entry: Entry) -> Merged:
        """Return a channel with the usual region, the defaults and its own keys."""
        usual = usual_settings(entry.name)
        region = {"region": usual["region"]} if "region" in usual else {}
        channel = Merged(entry, region, {})
        defaults = defaults_for(entry.name, entry.quantity, self._defaults)
        channel = channel.then(defaults, leave_out=CHOOSING)
        unknown = {
            key: value for key, value in entry.values.items() if key not in ChannelSettings.model_fields
        }
        channel.values.update(unknown)
        return channel.then([entry], leave_out=())

    def _picked(self, book: list[Merged]) -> set[str]:
        """Return the names of the channels of the book that the load case picks."""
        names = {one.entry.name: one.entry.name for one in book}
        regions = {one.entry.name: str(one.values.get("region", "")) for one in book}
        picked: set[str] = set()
        for key, known in (("channels", names), ("regions", regions)):
            for index, pattern in texts(self._case, key):
                hits = {name for name, word in known.items() if fits(word, pattern)}
                if not hits:
                    words = (
                        f"no channel of the book {_WANTED[key]} '{pattern}'{_meant(pattern, known.values())}"
                    )
                    self._mistake(words, key, index)
                picked |= hits
        return picked

    def _overridden(self, channels: list[Merged], *, say_unused: bool) -> list[Merged]:
        overrides = list(entries(self._case, "override", self._origin))
        for one in overrides if say_unused else ():
            if one.name and not any(fits(channel.entry.name, one.name) for channel in channels):
                close = _meant(one.name, [channel.entry.name for channel in channels])
                words = f"this override is unused: no channel of the load case is '{one.name}'{close}"
                self._found.mistakes.append(Mistake(one.origin.place, words))
        return [
            channel.then(
                (one for one in overrides if fits(channel.entry.name, one.name)), leave_out=("test",)
            )
            for channel in channels
        ]

    def _mistake(self, words: str, *key: str | int) -> None:
        taken = self._found.origins.get((*self._key, key[0]), self._origin.at(key[0]))
        self._found.mistakes.append(Mistake(taken.at(*key[1:]).place, words))


_WANTED = {"channels": "is called", "regions": "counts for the region"}


def _meant(word: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(word, set(known), n=1, cutoff=0.6)
    return f"; did you mean '{close[0]}'?" if close else "; correct or remove it"


def _add_layouts(found: Expansion) -> None:
    """Put the layouts of included books before those of the campaign file."""
    if not isinstance(found.content.get("layout", []), list):
        return
    layouts: list[Any] = []
    firsts: dict[str, Entry] = {}
    for file in [*found.files.books, found.files.main]:
        for layout in entries(file.content, "layout", Origin(file, ())):
            name = layout.text("name")
            if name in firsts:
                words = f"layout '{name}' is defined twice; {_there(firsts[name].origin.place, layout)}; "
                found.mistakes.append(Mistake(layout.origin.place, words + "rename one"))
                continue
            firsts.setdefault(name, layout)
            found.origins["layout", len(layouts)] = layout.origin
            layouts.append(layout.values)
    if layouts:
        found.content["layout"] = layouts


def _add_regions(found: Expansion) -> None:
    """Take over the weights of included books, of regions that are rated here and not weighted here."""
    own = found.content.get("regions", {})
    if not isinstance(own, dict):
        return
    regions = [one.values.get("region") for channels in found.channels.values() for one in channels]
    # What is no text is a mistake, which validation reports.
    used = {region for region in regions if isinstance(region, str)}
    for case in entries(found.content, "load_case", Origin(found.files.main, ())):
        used |= {one.text("region") for one in entries(case.values, "resultant", case.origin)}
    weights: dict[str, Any] = {}
    for file in found.files.books:
        included = file.content.get("regions", {})
        for region, weight in included.items() if isinstance(included, dict) else ():
            if region in used and region not in own:
                weights[region] = weight
                found.origins["regions", region] = Origin(file, ("regions", region))
    if weights:
        found.content["regions"] = weights | own
