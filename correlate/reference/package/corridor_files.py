"""Corridors as text files of a package."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.channel import is_channel_code
from correlate.conditioning import Recipe
from correlate.errors import CorrelateError
from correlate.formats import delimited
from correlate.formats.recording import Recording
from correlate.reference.repeats import repeat_set
from correlate.signal import Signal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from correlate.reference.repeats import RepeatSet


def write_corridors(
    recipes: Mapping[tuple[str, str], Recipe],
    load_case: str,
    recordings: Sequence[Recording],
    folder: Path,
) -> None:
    """Write mean, spread and extremes of every channel that two repeats or more have.

    Parameters
    ----------
    recipes
        How channels are conditioned, by load case and channel; others are taken as recorded.
    load_case
        Of the recordings.
    recordings
        Its repeats.
    folder
        To be made when there is anything to write.

    Raises
    ------
    CorrelateError
        The repeats of a channel cannot be brought onto one grid.
    """
    channels: dict[str, list[Signal]] = {}
    for recording in recordings:
        for signal in recording.signals:
            channels.setdefault(signal.channel, []).append(signal)
    for channel, signals in channels.items():
        if len(signals) < 2:
            continue
        recipe = recipes.get((load_case, channel), Recipe())
        try:
            repeats = repeat_set(signals, recipe)
        except CorrelateError as error:
            raise error.located(f"corridor of '{channel}' in load case '{load_case}'") from error
        folder.mkdir(parents=True, exist_ok=True)
        name = channel if is_channel_code(channel) else "".join(c if c.isalnum() else "_" for c in channel)
        delimited.write(_corridor_recording(repeats, recipe, folder / f"{name}.csv"), folder / f"{name}.csv")


def _corridor_recording(repeats: RepeatSet, recipe: Recipe, path: Path) -> Recording:
    curves = {
        "mean": repeats.mean,
        "standard deviation": repeats.standard_deviation,
        "least": repeats.smallest,
        "largest": repeats.largest,
    }
    start_s, step_s = float(repeats.time_s[0]), float(repeats.time_s[1] - repeats.time_s[0])
    signals = tuple(
        Signal(samples=curve, start_s=start_s, step_s=step_s, unit=repeats.unit, channel=name)
        for name, curve in curves.items()
    )
    shifts = ", ".join(f"{shift * 1e3:.4g}" for shift in repeats.shifts_s)
    details = {
        "channel": repeats.channel,
        "repeats": str(len(repeats)),
        "filter": "none" if recipe.cfc is None else f"CFC {recipe.cfc}",
        "shifts of the repeats in ms": shifts,
    }
    return Recording(signals=signals, path=path, format="computed", details=details)
