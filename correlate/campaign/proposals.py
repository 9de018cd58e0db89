"""Model channels proposed for test channels, and a first campaign file from the data in a folder."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning import Recipe, align
from correlate.display import short_repr
from correlate.errors import CorrelateError, FormatError
from correlate.evaluation.book import usual_settings
from correlate.evaluation.channels import model_channel_name
from correlate.formats import read
from correlate.metrics.iso18571 import RatingSettings
from correlate.metrics.iso18571.phase import shift_correlations
from correlate.toml import toml_entry, toml_value
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.formats import Recording
    from correlate.signal import Signal


WORD_SHARE: Final = 0.4
"""Weight of the names; the rest is the weight of the curves. Chosen here."""

NEAR: Final = RatingSettings(flat_overlap="zero", largest_shift=0.05)
"""Shifts tried: few, because a long one leaves the event out and correlates what is left."""

_ALIKE: Final = {
    "accel": "acceleration",
    "acc": "acceleration",
    "deceleration": "acceleration",
    "disp": "displacement",
    "deflection": "displacement",
    "compression": "displacement",
    "rot": "angle",
    "rotation": "angle",
    "probe": "pendulum",
    "impactor": "pendulum",
    "sternum": "chest",
    "spine": "thoracic",
    "ax": "acceleration x",
    "ay": "acceleration y",
    "az": "acceleration z",
    "fx": "force x",
    "fy": "force y",
    "fz": "force z",
    "mx": "moment x",
    "my": "moment y",
    "mz": "moment z",
}
"""Words that mean the same in channel names (common practice, no source)."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A possible partner of a test channel.

    Attributes
    ----------
    test, model
        Names of the channels.
    score
        In [0, 1]; the best comes first.
    sign
        -1 when the model fits better with its sign turned.
    reasons
        Why, one clause each.
    """

    test: str
    model: str
    score: float
    sign: int
    reasons: tuple[str, ...]


def propose(test: Signal, candidates: Iterable[Signal], *, recipe: Recipe | None = None) -> list[Proposal]:
    """Rank the channels of a model's output as partners of a test channel.

    Parameters
    ----------
    test
        The test channel.
    candidates
        Channels of the model.
    recipe
        Interval and filter to compare the curves with.

    Returns
    -------
    list of Proposal
        Best first; channels that measure something else are left out.
    """
    found = [_proposal(test, candidate, recipe or Recipe()) for candidate in candidates]
    return sorted((one for one in found if one is not None), key=lambda one: (-one.score, one.model))


def name_similarity(first: str, second: str) -> tuple[float, list[str]]:
    """Return the share of words that two channel names have in common, and those words.

    Examples
    --------
    >>> name_similarity("D0HEAD0000KMACXP", "head x accel")
    (1.0, ['acceleration', 'head', 'x'])
    """
    one, two = _words(first), _words(second)
    shared = one & two
    return len(shared) / len(one | two), sorted(shared)


def _words(name: str) -> set[str]:
    text = ChannelCode(name).describe() if is_channel_code(name) else name
    split = re.findall(r"[a-z]+|\d+", text.lower())
    return {part for word in split for part in _ALIKE.get(word, word).split()} or {text}


def _proposal(test: Signal, candidate: Signal, recipe: Recipe) -> Proposal | None:
    unit, other = parse_unit(test.unit), parse_unit(candidate.unit)
    if unit.exponents != other.exponents:
        return None
    alike, shared = name_similarity(test.channel, candidate.channel)
    reasons = [f"both measure {unit.dimension}"]
    if shared:
        reasons.append("names share " + ", ".join(shared))
    correlation = _correlation(test, candidate, recipe)
    if correlation is None:
        # The interval may reach beyond one of them; what they share is enough to rank by.
        correlation = _correlation(test, candidate, Recipe(cfc=recipe.cfc))
    if correlation is None:
        reasons.append("curves could not be compared")
    else:
        turned = ", with the sign turned" if correlation < 0 else ""
        reasons.append(f"curves correlate {abs(correlation):.2f} when shifted{turned}")
    score = WORD_SHARE * alike + (1 - WORD_SHARE) * abs(correlation or 0.0)
    return Proposal(
        test=test.channel,
        model=candidate.channel,
        score=score,
        sign=-1 if (correlation or 0.0) < 0 else 1,
        reasons=tuple(reasons),
    )


def _correlation(test: Signal, candidate: Signal, recipe: Recipe) -> float | None:
    """Return the correlation of largest size over small shifts, with its sign."""
    try:
        pair = align(test, candidate, recipe)
    except CorrelateError:
        return None
    values = shift_correlations(pair, NEAR).values
    return float(values[np.argmax(np.abs(values))])


def proposals_of(campaign: Campaign, release: Release) -> list[tuple[str, list[Proposal]]]:
    """Rank partners for every test channel that has none in a release.

    Parameters
    ----------
    campaign
        The campaign.
    release
        Whose results are looked at.

    Returns
    -------
    list of (str, list of Proposal)
        Name of the load case, and the proposals for one channel, best first. Channels for which nothing
        measures the same are left out.

    Raises
    ------
    CorrelateError
        A test or a result cannot be read.
    """
    found: list[tuple[str, list[Proposal]]] = []
    for case in campaign.load_cases:
        test = campaign.read_test(campaign.test_paths(case)[0], case)
        model = campaign.read_model(release, case)
        used, open_ = _split(case, test, model)
        spare = [signal for signal in model.signals if signal.channel not in used]
        for name in open_:
            ranked = propose(test.channel(name), spare, recipe=_recipe(case, name))
            if ranked:
                found.append((case.name, ranked))
    return found


def _split(case: LoadCase, test: Recording, model: Recording) -> tuple[set[str], list[str]]:
    """Return the model channels that are paired, and the test channels that are not."""
    used: set[str] = set()
    paired: set[str] = set()
    for plan in case.channel:
        try:
            used.add(model_channel_name(plan, model))
            paired.add(plan.test)
        except CorrelateError:
            continue  # it is one of those that need a proposal
    return used, [name for name in test.channel_names if name not in paired]


def _recipe(case: LoadCase, name: str) -> Recipe:
    """Return how the channel is conditioned, or the load case's interval alone when it is not planned."""
    for plan in case.channel:
        if plan.test == name:
            return case.recipe(plan)
    start_ms, end_ms = case.interval_ms
    return Recipe(start_s=start_ms / 1e3, end_s=end_ms / 1e3, step_s=case.step_ms / 1e3)


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
        f"interval_ms = [{start_ms:g}, {end_ms:g}]       # the whole record: narrow it to the event",
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


def planned_channel(test: str) -> dict[str, Any]:
    """Return how a test channel is planned that is not yet: code, region, usual frequency class."""
    usual = {"region": "other"} | usual_settings(test)
    return {"test": test, **{key: usual[key] for key in ("region", "cfc") if key in usual}}
