"""The lasting record of one rated pair: plain values, ready for a table or a file."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from correlate.display import short_repr
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.flag import Flag
    from correlate.metrics import Evaluation
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PairRecord:
    """What is kept of one rated pair.

    Attributes
    ----------
    key
        Hash of everything the rating depends on; equal keys mean equal ratings.
    campaign, release, load_case, channel, repeat
        Names of the pair.
    overall, corridor, phase, magnitude, slope
        In [0, 1].
    grade
        Word of the overall rating.
    shift_s
        Positive when the model is late, in s.
    samples
        In the interval of evaluation.
    inputs
        File, sha256, channel, unit and history of ``reference`` and ``candidate``.
    settings
        ``conditioning`` and ``rating``.
    ingredients
        Raw sums behind the scores.
    version
        Of the program.
    """

    key: str
    campaign: str
    release: str
    load_case: str
    channel: str
    repeat: str
    overall: float
    grade: str
    corridor: float
    phase: float
    magnitude: float
    slope: float
    shift_s: float
    samples: int
    inputs: dict[str, Any]
    settings: dict[str, Any]
    ingredients: dict[str, Any]
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairNames:
    """What a pair is called.

    Attributes
    ----------
    campaign, release, load_case, channel, repeat
        As in the campaign file; the repeat is the name of the test, or says that it is a mean.
    """

    campaign: str
    release: str
    load_case: str
    channel: str
    repeat: str


Origin = tuple[str, str]
"""Hash of the bytes that a curve was read from and of how they were read, and its channel there."""

_PLACES: Final = frozenset({"file", "recording"})
"""Settings of a step that say where a file lies and not what is in it."""


def origin_of(raw: Signal) -> Origin:
    """Return what a curve rests on before it is conditioned.

    The same bytes read by another layout, in another declared unit or out of an archive make another origin;
    the same bytes in another folder do not.
    """
    steps = [
        (step.name, sorted((key, repr(value)) for key, value in step.settings.items() if key not in _PLACES))
        for step in raw.history
    ]
    read = hashlib.sha256(repr((raw.source.sha256, raw.unit, steps)).encode())
    return read.hexdigest(), raw.channel


def rating_key(*, reference: Sequence[Origin], candidate: Sequence[Origin], how: str) -> str:
    """Return the hash of everything a rating depends on."""
    return hashlib.sha256(repr((reference, candidate, how, VERSION)).encode()).hexdigest()


def hash_of_settings(settings: Mapping[str, Any]) -> str:
    """Return the hash of conditioning and rating settings."""
    return hashlib.sha256(json.dumps(settings, sort_keys=True).encode()).hexdigest()


def record_of(
    names: PairNames,
    rating: Rating,
    *,
    key: str,
    inputs: dict[str, Any],
    settings: dict[str, Any],
    also: Sequence[Evaluation] = (),
    flags: Sequence[Flag] = (),
) -> PairRecord:
    """Turn a rating into its record."""
    ingredients: dict[str, Any] = rating.ingredients.as_dict()
    if also:
        ingredients["also"] = {one.measure: {"value": one.value, "reason": one.reason} for one in also}
    if flags:
        ingredients["flags"] = [flag.as_plain() for flag in flags]
    return PairRecord(
        key=key,
        campaign=names.campaign,
        release=names.release,
        load_case=names.load_case,
        channel=names.channel,
        repeat=names.repeat,
        overall=rating.overall,
        grade=rating.grade,
        corridor=rating.corridor,
        phase=rating.phase,
        magnitude=rating.magnitude,
        slope=rating.slope,
        shift_s=rating.shift_s,
        samples=rating.samples,
        inputs=inputs,
        settings=settings,
        ingredients=plain(ingredients),
        version=VERSION,
    )


def input_words(signal: Signal) -> dict[str, Any]:
    """Return where a curve came from and every step that made it, as plain values."""
    return {
        "file": signal.source.file,
        "sha256": signal.source.sha256,
        "channel": signal.channel,
        "unit": signal.unit,
        "history": [{"step": step.name, **plain(step.settings)} for step in signal.history],
    }


@lru_cache(maxsize=4096)
def settings_words(
    recipe: Recipe,
    settings: RatingSettings,
    measures: tuple[str, ...] = (),
    *,
    axes: tuple[Recipe, ...] = (),
) -> dict[str, Any]:
    """Return conditioning and rating settings as plain values."""
    words = {"conditioning": plain(asdict(recipe)), "rating": plain(settings.as_dict())}
    if axes:
        words["other_axes"] = [plain(asdict(axis)) for axis in axes]
    return {**words, "also": list(measures)} if measures else words


_PLAIN: Final = frozenset({str, int, bool, type(None)})
"""Types of most values of a record; JSON represents them directly."""


def plain(value: Any) -> Any:
    """Return a value that JSON knows: lists for tuples, None where a number is not finite."""
    if type(value) in _PLAIN:
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "items"):
        # Most of the dozens of values of a record are numbers, for which a function call is avoided.
        return {
            key: entry if type(entry) is float and math.isfinite(entry) else plain(entry)
            for key, entry in value.items()
        }
    if isinstance(value, tuple | list):
        return [plain(entry) for entry in value]
    return value
