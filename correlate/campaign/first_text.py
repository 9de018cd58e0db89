"""The text of a first campaign file: short, in the inline form of the channel book."""

from __future__ import annotations

import os
import re
from itertools import takewhile
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.clues import channel_meaning
from correlate.campaign.first_file import LEAST, QUIET_MS, SURE
from correlate.channel import MAIN_LOCATIONS, PHYSICAL_DIMENSIONS, ChannelCode, is_channel_code
from correlate.evaluation.book import usual_settings
from correlate.toml import toml_value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.campaign.channel_words import Meaning
    from correlate.campaign.first_file import FirstCampaign, Part
    from correlate.campaign.scanning import Found


HEADING: Final = """\
# Campaign file proposed by "correlate start". Paths are relative to this file, times are in ms.
# Assumptions that could be wrong are marked with "check".
"""


def campaign_text(first: FirstCampaign) -> str:
    """Return the text of the campaign file."""
    return _Writing(first).text()


class _Writing:
    """The text of the campaign file."""

    def __init__(self, first: FirstCampaign) -> None:
        self.first = first
        self.parts = first.parts
        self.releases = [
            name for name in first.grouping.releases if any(name in part.results for part in self.parts)
        ]
        self.places = _release_folders(self.parts, self.releases)

    def text(self) -> str:
        """Return the whole file."""
        lines = [*HEADING.splitlines(), *self._include(), *self._channels(), ""]
        if _has_quiet(self.parts):
            lines[-1:] = [f'default = [{{test = "*", test_offset_ms = {_window(QUIET_MS)}}}]', ""]
        lines += ["[campaign]", f"title = {toml_value(self.first.folder.resolve().name)}"]
        common = self._common()
        if common:
            lines += ["", "[every_load_case]", *common.values()]
        lines.append("")
        for part in self.parts:
            lines += self._load_case(part, set(common))
        lines.append("")
        for name in self.releases:
            lines += ["[[release]]", f"name = {toml_value(name)}"]
            lines.append(f"folder = {toml_value(self.places[name])}")
            lines += self._own_layout(name)
        return "\n".join([*lines, ""])

    def _include(self) -> list[str]:
        books = {ready_made(part) for part in self.parts}
        if not any(_has_code(test) for test in self.first.book):
            return []
        chosen = books.pop() if len(books) == 1 else "usual"
        return [f'include = ["ready-made/{chosen}"]']

    def _channels(self) -> list[str]:
        lines = ["channel = ["]
        for test, one in self.first.book.items():
            words = {"test": test, "model": one.model} | ({"model_sign": -1} if one.sign < 0 else {})
            words |= {"model_unit": one.unit} if one.unit else {}
            words |= _settings(test, self.first)
            line = f"  {toml_value(words)},"
            if one.score < LEAST:
                line = f"  # {line.strip()}  # {one.score:.2f}: remove the # to accept"
            elif one.score < SURE:
                line += f"  # check: {one.score:.2f}"
            elif not one.sign_agrees:
                line += "  # check: the signs of the results contradict each other"
            elif one.unit:
                line += "  # check: unit assumed from the size of the values"
            lines.append(line)
        lines += [f"  # {toml_value({'test': test})} {reason}" for test, reason in self.first.alone.items()]
        return [*lines, "]"]

    def _common(self) -> dict[str, str]:
        """Return the lines that are the same in all load cases, by key."""
        each = [self._keys(part) for part in self.parts]
        return {
            key: line
            for key, line in each[0].items()
            if key not in _OWN and all(other.get(key) == line for other in each[1:])
        }

    def _load_case(self, part: Part, common: set[str]) -> list[str]:
        lines = [line for key, line in self._keys(part).items() if key not in common]
        changed = []
        for one in part.partners:
            booked = self.first.book[one.test]
            if (one.model, one.sign, one.unit) != (
                booked.model,
                booked.sign,
                booked.unit,
            ) and one.score >= LEAST:
                changed.append({"test": one.test, "model": one.model, "model_sign": one.sign})
        lines += [f"override = {toml_value(changed)}  # check"] if changed else []
        return ["[[load_case]]", *lines]

    def _keys(self, part: Part) -> dict[str, str]:
        found = {"name": f"name = {toml_value(part.name)}"}
        found["tests"] = f"tests = {toml_value(self._patterns(part))}"
        books = {ready_made(other) for other in self.parts}
        if len(books) > 1 and ready_made(part) != "usual" and _has_code(part.partners[0].test):
            found["include"] = f'include = ["ready-made/{ready_made(part)}"]'
        mark = (
            "# check: the whole common time span"
            if part.is_whole
            else "# check: 98 % of the energy and a quarter longer"
        )
        found["interval_ms"] = f"interval_ms = {_window(part.interval_ms)}  {mark}"
        template = self._model_file(part)
        if template != "{load_case}.csv":
            unsure = "" if part.case.is_sure else "  # check: assigned by its curves"
            found["model_file"] = f"model_file = {toml_value(template)}{unsure}"
        model = next(iter(part.results.values()))
        for key, files in (("layout", model), ("test_layout", part.case.tests[:1])):
            layouts = [one.layout for one in files]
            if all(layouts):
                named = toml_value(layouts if len(layouts) > 1 else layouts[0])
                found[key] = f"{key} = {named}  # check: {self.first.texts.units_of(layouts[0])}"
        sure = {test for test, one in self.first.book.items() if one.score >= LEAST}
        own = [one.test for one in part.partners if one.test in sure]
        if set(own) != sure:
            found["channels"] = f"channels = {toml_value(own)}"
        return found

    def _own_layout(self, release: str) -> list[str]:
        """Return the layout of a release whose files have other columns than those of the first."""
        runs = [(part, part.results[release]) for part in self.parts if release in part.results]
        layouts = {tuple(one.layout for one in files) for _, files in runs}
        first = {tuple(one.layout for one in next(iter(part.results.values()))) for part, _ in runs}
        if layouts == first or len(layouts) > 1 or len(min(layouts)) > 1 or not min(layouts)[0]:
            return []  # where it cannot be said, the header in the layout refuses the file
        return [f"layout = {toml_value(min(layouts)[0])}  # check: columns differ from other releases"]

    def _patterns(self, part: Part) -> list[str]:
        return patterns_of(self.first.folder, [one.path for one in part.case.tests])

    def _model_file(self, part: Part) -> str:
        """Return the path below the folder of a release, the same for all releases."""
        names: list[str] = []
        for release, files in part.results.items():
            path = files[0].relative if len(files) == 1 else files[0].relative.rpartition("/")[0]
            below = path.removeprefix(self.places[release]).removeprefix("/")
            shared = list(self.places.values()).count(self.places[release]) > 1
            names.append(below.replace(release, "{release}") if shared else below)
        return merged(*names).replace(part.name, "{load_case}")


_OWN: Final = ("name", "tests", "include")
"""Keys that belong to one load case."""


def _window(interval: tuple[float, float]) -> str:
    return f"[{interval[0]:g}, {interval[1]:g}]"


def _has_quiet(parts: Sequence[Part]) -> bool:
    starts = [signal.start_s for part in parts for one in part.case.tests for signal in one.recording.signals]
    return max(starts) * 1e3 <= QUIET_MS[0]


def _release_folders(parts: Sequence[Part], releases: Sequence[str]) -> dict[str, str]:
    """Return the folder that holds all results of each release, relative."""
    found = {}
    for release in releases:
        folders = [_folder_of(part.results[release]) for part in parts if release in part.results]
        found[release] = os.path.commonpath(folders).replace(os.sep, "/")
    return found


def _shared_start(names: Sequence[str]) -> str:
    """Return the characters with which all names begin."""
    columns = takewhile(lambda marks: len(set(marks)) == 1, zip(*names, strict=False))
    return "".join(marks[0] for marks in columns)


def _shared_end(names: Sequence[str]) -> str:
    return _shared_start([name[::-1] for name in names])[::-1]


def merged(*names: str) -> str:
    """Return a pattern that all names fit: what differs in the middle is free.

    Examples
    --------
    >>> merged("run0_thorax/curves.csv", "run1_thorax/curves.csv")
    'run*_thorax/curves.csv'
    """
    start = _shared_start(names)
    if all(name == start for name in names):
        return start
    return f"{start}*{_shared_end([name[len(start) :] for name in names])}"


def pattern_of(found: Sequence[Found]) -> str:
    """Return a pattern that the paths of all files fit, folder by folder where all lie equally deep."""
    parts = [one.relative.split("/") for one in found]
    if len({len(one) for one in parts}) > 1:
        return merged(*(one.relative for one in found)).replace("*", "**/*", 1)
    return "/".join(merged(*level) for level in zip(*parts, strict=True))


def _folder_of(files: Sequence[Found]) -> str:
    """Return the folder around the file of a run, or around the folder of several."""
    folder = files[0].relative.rpartition("/")[0]
    return (folder if len(files) == 1 else folder.rpartition("/")[0]) or "."


def patterns_of(folder: Path, wanted: Sequence[Path]) -> list[str]:
    """Return a pattern that matches the wanted paths and nothing else; the paths where there is none."""
    parents = {path.parent for path in wanted}
    if len(parents) == 1 and len(wanted) > 1:
        parent = parents.pop()
        names = [path.name for path in wanted]
        below = parent.relative_to(folder).as_posix()
        whole = merged(*names)
        for pattern in ("*", re.sub(r"[0-9]+\*", "*", whole), whole):
            matched = set(parent.glob(pattern))
            if matched == set(wanted) and not any(mark in below for mark in "*?["):
                return [pattern if below == "." else f"{below}/{pattern}"]
    return [path.relative_to(folder).as_posix() for path in wanted]


def _has_code(test: str) -> bool:
    return is_channel_code(test) and ChannelCode(test).main_location in MAIN_LOCATIONS


def _settings(test: str, first: FirstCampaign) -> dict[str, Any]:
    """Return what is usual for a channel whose name is no code, by its words and unit."""
    if _has_code(test):
        return {}
    recording = next(one.recording for part in first.parts for one in part.case.tests if test in one.channels)
    said = channel_meaning(recording, test)
    usual = usual_settings(code_of(said))
    found: dict[str, Any] = {"region": usual.get("region", "other")}
    if "cfc" in usual:
        found["cfc"] = usual["cfc"]
    described = recording.channel_headers.get(test, {}).get("Name of the channel", "")
    return found | ({"title": described} if described else {})


_MAIN: Final = {
    "head": "HEAD",
    "neck": "NECK",
    "chest": "CHST",
    "spine": "THSP",
    "lumbar": "LUSP",
    "pelvis": "PELV",
    "femur": "FEMR",
    "knee": "KNEE",
    "tibia": "TIBI",
    "seat": "SEAT",
    "impactor": "PEND",
}
"""Main location of the codes for a place in words."""


def code_of(said: Meaning) -> str:
    """Return the channel code that says the same as words, as far as they go."""
    place = next((_MAIN[one] for one in sorted(said.places) if one in _MAIN), "????")
    kind = next((key for key, words in PHYSICAL_DIMENSIONS.items() if words == said.kind), "??")
    axis = said.axis[:1].upper() or "0"
    return f"??{place}??????{kind}{'R' if said.axis == 'resultant' else axis}?"


def ready_made(part: Part) -> str:
    """Return the ready-made book that fits the places that are measured."""
    codes = [ChannelCode(one.test) for one in part.partners if _has_code(one.test)]
    places = {code.main_location for code in codes}
    if places & {"SEAT"} and places & {"LUSP", "PELV"}:
        return "seat"
    if "PEND" in places:
        if places & {"CHST", "THSP"}:
            return "thorax"
        if places & {"FEMR", "KNEE"}:
            return "knee"
        if "NECK" in places:
            return "neck-pendulum"
    return "head-drop" if places == {"HEAD"} else "usual"
