"""A first campaign file from the data in a folder, commented, with proposals that nobody has accepted yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.campaign.proposals import propose
from correlate.campaign.rewriting import planned_channel
from correlate.channel import is_channel_code
from correlate.errors import CorrelateError, FormatError
from correlate.formats import read
from correlate.toml import toml_entry, toml_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from correlate.formats import Recording

MOST_FILES: Final = 5_000
"""A folder with more files than this is no project folder."""

HEADING: Final = """\
# What is compared with what, and how. Paths are relative to this file; times are in milliseconds.
# Generated from the data that were found. Check the intervals, filter classes, regions and signs.

[campaign]
title = {title}
device = ""

# [scoring]
# repeats = "each"          # or "mean curve": the mean of the repeats is the reference
# missing = "apart"         # or "zero": a channel without data counts as 0

# [regions]                 # weights of body regions, 1 by default
# head = 1.0
"""


@dataclass(frozen=True, slots=True)
class _Found:
    """A readable recording and where it lies."""

    path: Path
    recording: Recording

    @property
    def is_test(self) -> bool:
        """Whether its channels carry codes, as a laboratory's do."""
        return any(is_channel_code(name) for name in self.recording.channel_names)


def first_file(folder: Path) -> str:
    """Write a first campaign file from the tests and model results in a folder.

    Recordings whose channels carry 16-character codes are tests; the folder around them names the load case.
    Other recordings are results of the model; the folder around them names the release.

    Parameters
    ----------
    folder
        With the data in it.

    Returns
    -------
    str
        Text of a campaign file. A mapping that is only proposed stands in it as a comment.

    Raises
    ------
    FormatError
        The folder holds no test that can be read, or no result of a model, or far too many files.
    """
    found = list(_recordings(folder))
    tests = [entry for entry in found if entry.is_test]
    models = [entry for entry in found if not entry.is_test]
    if not tests or not models:
        what = "no test with channel codes" if not tests else "no result of a model"
        raise FormatError(
            f"{what} can be read in this folder", where=str(folder), remedy="name the folder of a project"
        )
    cases: dict[Path, list[_Found]] = {}
    for entry in tests:
        cases.setdefault(entry.path.parent, []).append(entry)
    parts = [HEADING.format(title=toml_value(folder.resolve().name))]
    parts += [_load_case(folder, place, repeats, models) for place, repeats in sorted(cases.items())]
    parts += _releases(folder, models)
    return "\n".join(parts)


def _recordings(folder: Path) -> Iterator[_Found]:
    """Yield what can be read, test folders whole, everything else passed over."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(folder), remedy="name a folder"
        ) from error
    if len(entries) > MOST_FILES:
        raise FormatError(
            f"holds {len(entries)} files", where=str(folder), remedy="name the folder of a project"
        )
    for entry in entries:
        if entry.name.startswith(".") or entry.is_symlink():
            continue
        try:
            yield _Found(entry, read(entry))
        except CorrelateError:
            if entry.is_dir():
                yield from _recordings(entry)


def _load_case(folder: Path, place: Path, repeats: list[_Found], models: list[_Found]) -> str:
    first = repeats[0].recording
    partner = next((model for model in models if model.path.stem == place.name), None)
    start_ms, end_ms = _interval([*repeats, partner] if partner else repeats)
    lines = [
        "[[load_case]]",
        f"name = {toml_value(place.name)}",
        f"tests = {toml_value([f'{place.relative_to(folder).as_posix()}/*'])}       # {len(repeats)} found",
        f"interval_ms = [{start_ms:g}, {end_ms:g}]       # all there is: narrow it to the event",
        "# held_out = true",
    ]
    if partner is not None:
        lines.append(f"model_file = {toml_value(f'{{load_case}}{partner.path.suffix}')}")
    for signal in first.signals:
        lines += ["", toml_entry("[[load_case.channel]]", planned_channel(signal.channel)).rstrip()]
        if partner is None or signal.channel in partner.recording.channel_names:
            continue
        lines += _proposed(signal.channel, first, partner.recording)
    return "\n".join(lines) + "\n"


def _interval(found: Iterable[_Found]) -> tuple[float, float]:
    """Return the time from zero on that all channels cover, in ms."""
    signals = [signal for entry in found for signal in entry.recording.signals]
    start_s = max(0.0, *(signal.start_s for signal in signals))
    return start_s * 1e3, min(signal.end_s for signal in signals) * 1e3


def _proposed(channel: str, test: Recording, model: Recording) -> list[str]:
    ranked = propose(test.channel(channel), model.signals)
    if not ranked:
        return ['# model = ""               # no model channel has the same physical dimension']
    best = ranked[0]
    lines = [f"# proposed, {best.score:.2f}: {'; '.join(best.reasons)}. Remove the # to accept:"]
    lines.append(f"# model = {toml_value(best.model)}")
    return [*lines, "# model_sign = -1"] if best.sign < 0 else lines


def _releases(folder: Path, models: Iterable[_Found]) -> list[str]:
    places = dict.fromkeys(entry.path.parent for entry in models)
    return [
        toml_entry("[[release]]", {"name": place.name, "folder": place.relative_to(folder).as_posix()})
        for place in places
    ]
