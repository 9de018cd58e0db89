"""Write an accepted proposal into a campaign file, preserving comments and order."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import SettingsError
from correlate.toml.lines import key_lines

if TYPE_CHECKING:
    from correlate.campaign.proposals import Proposal

REGIONS: Final[dict[str, str]] = {
    "HEAD": "head",
    "NECK": "neck",
    "CHST": "thorax",
    "THSP": "thorax",
    "LUSP": "lumbar",
    "PELV": "pelvis",
    "FEMR": "leg",
    "KNEE": "leg",
    "TIBI": "leg",
    "SEAT": "seat",
    "PEND": "impactor",
}
"""Body region that a main location counts for when nobody said otherwise. Chosen here."""

USUAL_CLASS: Final[dict[tuple[str, str], int]] = {
    ("HEAD", "AC"): 1000,
    ("NECK", "FO"): 1000,
    ("NECK", "MO"): 600,
    ("CHST", "AC"): 180,
    ("CHST", "DS"): 180,
    ("THSP", "AC"): 180,
    ("PELV", "AC"): 1000,
    ("FEMR", "FO"): 600,
    ("LUSP", "FO"): 1000,
    ("PEND", "AC"): 180,
    ("PEND", "FO"): 180,
    ("SEAT", "AC"): 60,
}
"""Usual channel frequency classes (SAE J211-1, from memory; lumbar and seat: common practice, no source)."""


def accept(text: str, load_case: str, proposal: Proposal) -> str:
    """Write a proposal into the text of a campaign file.

    A channel that is planned already gets its ``model``; any other is added at the end of its load case.

    Parameters
    ----------
    text
        The file.
    load_case
        Name of the load case.
    proposal
        What was accepted.

    Returns
    -------
    str
        The file with the lines added; everything else as it was.

    Raises
    ------
    SettingsError
        The load case is not in the file, or the channel already has a model.
    """
    lines = text.splitlines()
    places = key_lines(text)
    case = _case_index(lines, places, load_case)
    for place, number in places.items():
        is_test = place[:3] == ("load_case", case, "channel") and place[-1] == "test"
        if is_test and _value(lines[number - 1]) == proposal.test:
            if (*place[:-1], "model") in places:
                raise SettingsError(
                    f"channel '{proposal.test}' already has a model",
                    where=f"load case '{load_case}'",
                    remedy="edit the file",
                )
            lines[number:number] = _mapping(proposal)
            return "\n".join(lines) + "\n"
    end = _end_of_case(places, case, len(lines))
    lines[end:end] = ["", "[[load_case.channel]]", *channel_lines(proposal.test), *_mapping(proposal)]
    return "\n".join(lines) + "\n"


def channel_lines(test: str) -> list[str]:
    """Return the lines that plan a test channel: code, region and usual frequency class.

    Parameters
    ----------
    test
        Code or name.

    Returns
    -------
    list of str
    """
    found = [f"test = {json.dumps(test, ensure_ascii=False)}"]
    code = ChannelCode(test) if is_channel_code(test) else None
    found.append(f'region = "{REGIONS.get(code.main_location, "other") if code else "other"}"')
    usual = USUAL_CLASS.get((code.main_location, code.dimension)) if code else None
    if usual is not None:
        found.append(f"cfc = {usual}")
    return found


def _mapping(proposal: Proposal) -> list[str]:
    lines = [f"model = {json.dumps(proposal.model, ensure_ascii=False)}"]
    return [*lines, "model_sign = -1"] if proposal.sign < 0 else lines


def _case_index(lines: list[str], places: dict[tuple[str | int, ...], int], name: str) -> int:
    for place, number in places.items():
        is_name = len(place) == 3 and place[0] == "load_case" and place[2] == "name"
        if is_name and _value(lines[number - 1]) == name:
            return int(place[1])
    raise SettingsError(f"there is no load case '{name}' in the file", remedy="correct the name")


def _end_of_case(places: dict[tuple[str | int, ...], int], case: int, total: int) -> int:
    """Return the line behind the last key of a load case."""
    inside = [number for place, number in places.items() if place[:2] == ("load_case", case)]
    after = [number for number in places.values() if number > max(inside)]
    return max(inside) if after else total


def _value(line: str) -> str:
    match = re.search(r"""=\s*(?:"([^"]*)"|'([^']*)')""", line)
    return (match[1] or match[2] or "") if match else ""
