"""Which tests are repeats of each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.channel import is_channel_code
from correlate.reference.check.statistics import header_number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.formats import Recording


LOAD_CASE_KEY: Final = "Type of the test"
"""Line of a test description that names the load case."""
MASS: Final = "Mass test object 1"
SPEED: Final = "Velocity test object 1"
SUBJECT: Final = "Name of test object 1"
SHARED_CHANNELS: Final = 0.5
"""Repeats share at least this part of the channels of the smaller test."""
SAME_MASS: Final = 1.15
"""Largest ratio of the masses that two repeats state."""
SAME_SPEED: Final = 1.1
"""Largest ratio of the speeds that two repeats state; impact speeds scatter by 1 or 2 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatGroup:
    """Tests that are compared with each other.

    Attributes
    ----------
    name
        The load case; of a second group of the same load case also how it differs.
    load_case
        As under ``Type of the test``, or the folder.
    members
        Indices into the tests.
    """

    name: str
    load_case: str
    members: tuple[int, ...]


def load_case_of(recording: Recording) -> str:
    """Return the load case a test belongs to.

    Parameters
    ----------
    recording
        As read.

    Returns
    -------
    str
        What the test says under ``Type of the test``, else the name of the folder it lies in.
    """
    named = _stated(recording, LOAD_CASE_KEY)
    return named or recording.path.absolute().parent.name


def repeat_groups(recordings: Sequence[Recording]) -> list[RepeatGroup]:
    """Put tests together that are repeats of each other.

    Repeats are of one load case, share most of their channels, and agree in mass, speed and name of the test
    object as far as both state them. Every test is compared with the first one of each group.

    References
    ----------
    .. [1] Criterion derived here; limits chosen here.
    """
    groups: dict[str, list[int]] = {}
    names: dict[str, str] = {}
    for index, recording in enumerate(recordings):
        load_case = load_case_of(recording)
        own = [name for name, base in names.items() if base == load_case]
        reasons = {name: _difference(recordings[groups[name][0]], recording) for name in own}
        name = next((name for name in own if not reasons[name]), "")
        if not name:
            name = _free_name(load_case, reasons.get(load_case, ""), names)
            names[name] = load_case
        groups.setdefault(name, []).append(index)
    return [
        RepeatGroup(name=name, load_case=names[name], members=tuple(members))
        for name, members in groups.items()
    ]


def _free_name(load_case: str, reason: str, taken: dict[str, str]) -> str:
    wanted = f"{load_case} ({reason})" if reason else load_case
    numbered = (f"{wanted} {number}" if number > 1 else wanted for number in range(1, len(taken) + 2))
    return next(name for name in numbered if name not in taken)


def _difference(first: Recording, other: Recording) -> str:
    """Say in a few words why a test is no repeat of another; empty when it may be one."""
    one, two = _channels(first), _channels(other)
    if len(one & two) < SHARED_CHANNELS * min(len(one), len(two)):
        return "other channels"
    for key, unit, largest in ((MASS, "kg", SAME_MASS), (SPEED, "m/s", SAME_SPEED)):
        a, b = (header_number(test.details, key) for test in (first, other))
        if a and b and max(a, b) > largest * min(a, b):
            return f"{b:g} {unit}"
    subjects = [_words(_stated(test, SUBJECT)) for test in (first, other)]
    return _stated(other, SUBJECT) if all(subjects) and not subjects[0] & subjects[1] else ""


def _channels(recording: Recording) -> set[str]:
    """Return the channels, codes without the letter of the filter."""
    return {name[:-1] if is_channel_code(name) else name for name in recording.all_names}


def _words(text: str) -> set[str]:
    """Return the words of a name without those that hold a digit, such as a serial number."""
    return {word for word in text.casefold().split() if not any(mark.isdigit() for mark in word)}


def _stated(recording: Recording, key: str) -> str:
    text = recording.details.get(key, "").strip()
    return "" if text == "NOVALUE" else text
