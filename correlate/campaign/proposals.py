"""Model channels proposed for test channels, and a first campaign file from the data in a folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.partners import Proposal, View, ranked
from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import CorrelateError, FormatError
from correlate.evaluation.book import usual_settings
from correlate.evaluation.channels import model_channel_name
from correlate.formats import Recording, read
from correlate.toml import toml_entry, toml_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from correlate.conditioning import Recipe
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.signal import Signal


def propose(test: Signal, candidates: Iterable[Signal], *, recipe: Recipe | None = None) -> list[Proposal]:
    """Rank the channels of a model's output as partners of one test channel.

    Parameters
    ----------
    test
        The test channel.
    candidates
        Channels of the model.
    recipe
        Interval to compare the curves in.

    Returns
    -------
    list of Proposal
        Best first; channels that measure something else are left out.
    """
    interval = (
        None
        if recipe is None or recipe.start_s is None or recipe.end_s is None
        else (recipe.start_s, recipe.end_s)
    )
    view = View(
        tests=(Recording(signals=(test,), path=Path("test"), format="computed"),),
        model=Recording(signals=tuple(candidates), path=Path("model"), format="computed"),
        interval_s=interval,
    )
    return next(iter(ranked({"": [view]}, {})[""]), [])


def proposals_of(campaign: Campaign, release: Release) -> list[tuple[str, list[Proposal]]]:
    """Rank partners for every test channel that has none in a release.

    All repeats and load cases are weighed together, and each channel of the model is first once at most.

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
        that measures the same is left are left out.

    Raises
    ------
    CorrelateError
        A test or a result cannot be read.
    """
    views: dict[str, list[View]] = {}
    taken: dict[str, tuple[set[str], set[str]]] = {}
    for case in campaign.load_cases:
        model = campaign.read_model(release, case)
        tests = tuple(campaign.read_test(path, case) for path in campaign.test_paths(case))
        start_ms, end_ms = case.interval_ms
        views[case.name] = [View(tests=tests, model=model, interval_s=(start_ms / 1e3, end_ms / 1e3))]
        taken[case.name] = _taken(case, model)
    found = ranked(views, taken)
    return [(name, proposals) for name in views for proposals in found[name]]


def _taken(case: LoadCase, model: Recording) -> tuple[set[str], set[str]]:
    """Return the test channels and the model channels that are paired."""
    tests: set[str] = set()
    models: set[str] = set()
    for plan in case.channel:
        try:
            models.add(model_channel_name(plan, model))
            tests.add(plan.test)
        except CorrelateError:
            continue  # it is one of those that need a proposal
    return tests, models


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
