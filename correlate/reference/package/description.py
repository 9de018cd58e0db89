"""What a package says of itself: description and corridors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.channel import is_channel_code
from correlate.conditioning import Recipe
from correlate.errors import CorrelateError
from correlate.formats import delimited
from correlate.formats.recording import Recording
from correlate.reference.package.media import MediaWords  # noqa: TC001 - the table needs it when it is made
from correlate.reference.repeats import repeat_set
from correlate.signal import Signal
from correlate.toml import Table, read_toml
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from correlate.reference.package.media import PackageMedia
    from correlate.reference.repeats import RepeatSet


NOT_GIVEN: Final = "not given"
_CONDITIONS: Final = {
    "date": "Date of the test",
    "device": "Name of test object 1",
    "impact_speed_m_per_s": "Velocity test object 1",
    "mass_kg": "Mass test object 1",
    "temperature_degC": "Reference temperature",
    "humidity_percent": "Relative air humidity",
}
_INSTRUMENTATION: Final = {
    "full_scale": "Channel amplitude class",
    "frequency_class": "Channel frequency class",
    "bits": "Bit resolution",
    "reference_system": "Reference system",
}


class PackageWords(Table):
    """The sender's own description of a package.

    Attributes
    ----------
    title
        Of the package.
    laboratory, contact
        Who sends it.
    device, device_serial
        What was tested, where the tests do not say.
    conditions, instrumentation
        What the test files do not say about how it was tested and measured.
    note
        Anything else.
    media
        Photos and films.
    """

    title: str = "Reference data"
    laboratory: str = NOT_GIVEN
    contact: str = NOT_GIVEN
    device: str = NOT_GIVEN
    device_serial: str = NOT_GIVEN
    conditions: str = NOT_GIVEN
    instrumentation: str = NOT_GIVEN
    note: str = ""
    media: tuple[MediaWords, ...] = ()


def load_words(path: Path) -> PackageWords:
    """Read the sender's words from a TOML file; photos and films are looked for beside it."""
    words = read_toml(path, PackageWords, kind="a file that describes the package").table
    media = tuple(one.model_copy(update={"file": str(path.parent / one.file)}) for one in words.media)
    return words.model_copy(update={"media": media})


def test_description(recording: Recording, *, load_case: str, folder: str) -> dict[str, Any]:
    """Return what one test says about itself."""
    channels = []
    for signal in recording.signals:
        header = recording.channel_headers.get(signal.channel, {})
        channels.append(
            {
                "channel": signal.channel,
                "unit": signal.unit,
                "sha256": signal.source.sha256,
                "sampling_interval_s": signal.step_s,
                "samples": len(signal),
                **{key: _given(header, line) for key, line in _INSTRUMENTATION.items()},
                "repairs": [
                    line for line in header.get("Comment", "").split("\n") if line.startswith("repair: ")
                ],
            }
        )
    return {
        "load_case": load_case,
        "folder": folder,
        "title": recording.title,
        "conditions": {key: _given(recording.details, line) for key, line in _CONDITIONS.items()},
        "channels": channels,
        "reading_warnings": list(recording.warnings),
        "set_aside": [str(one) for one in recording.set_aside],
    }


def package_description(
    words: PackageWords,
    tests: list[dict[str, Any]],
    *,
    media: Sequence[PackageMedia],
    checked_by: str,
    checked_at: str,
    findings: Mapping[str, int],
) -> dict[str, Any]:
    """Return the description of a package as plain values."""
    return {
        **words.model_dump(exclude={"media"}),
        "checked_by": checked_by,
        "checked_at": checked_at,
        "findings": dict(findings),
        "made_with": f"correlate {VERSION}",
        "tests": tests,
        "media": [one.model_dump() for one in media],
    }


def _given(lines: Mapping[str, str], key: str) -> str:
    value = lines.get(key, "")
    return value if value and value != "NOVALUE" else NOT_GIVEN


def write_corridors(
    recipes: Mapping[tuple[str, str], Recipe],
    load_case: str,
    recordings: Sequence[Recording],
    folder: Path,
) -> None:
    """Write mean, spread and extremes of every channel that two repeats or more have."""
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
