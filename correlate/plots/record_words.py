"""The record of a pair in words: every step of a signal, every setting of a comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.plots.wording import (
    COMPONENTS,
    filter_words,
    interval_words,
    milliseconds,
    number,
    share,
    unit_words,
)

if TYPE_CHECKING:
    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Step

_ENDINGS: Final[dict[str, tuple[str, float]]] = {
    "_ms": ("ms", 1.0),
    "_s": ("ms", 1e3),
    "_hz": ("Hz", 1.0),
    "_deg": ("°", 1.0),
}
_CHOSEN_WORDS: Final = {"cfc": "CFC", "minus_6_db": "−6 dB at"}
# A page names file and channel beside the history, once.
_TOLD_ELSEWHERE: Final = ("file", "channel")
_TOLD_IN_RECIPE: Final = (
    "inner_half_width",
    "outer_half_width",
    "largest_shift",
    "warping_band",
    "weights",
)
_UNITS: Final = ("unit", "from", "to")


def step_words(step: Step) -> tuple[str, str]:
    """Return a step of a history as its name and its settings in words.

    Parameters
    ----------
    step
        One step of a signal's history.

    Returns
    -------
    name, settings : str
        Times are given in ms; the settings are empty where the step has none.

    Examples
    --------
    >>> from correlate.signal import Step
    >>> step_words(Step("shift time", {"by_s": -0.0012}))
    ('Shift time', 'by −1.2 ms')
    >>> step_words(Step("filter", {"cfc": 180, "pad_samples": 200}))
    ('Filter', 'CFC 180 · pad samples 200')
    """
    rest = {key: value for key, value in step.settings.items() if key not in _TOLD_ELSEWHERE}
    words = []
    if {"start_s", "end_s"} <= rest.keys():
        words.append(f"{milliseconds(rest.pop('start_s'))} to {milliseconds(rest.pop('end_s'))}")
    words += [_setting_words(key, value) for key, value in rest.items()]
    return step.name[:1].upper() + step.name[1:], " · ".join(words)


def recipe_words(recipe: Recipe, rating: Rating) -> list[tuple[str, str]]:
    """List how both signals were conditioned and compared.

    Parameters
    ----------
    recipe
        Of the pair.
    rating
        Of the pair: its interval and number of samples are those used.

    Returns
    -------
    list of (str, str)
        What is set, and to what.
    """
    settings = rating.settings
    widths = f"±{share(settings.inner_half_width)} and ±{share(settings.outer_half_width)}"
    weights = ", ".join(f"{name} {number(getattr(settings.weights, name))}" for name in COMPONENTS)
    return [
        ("Method", "ISO/TS 18571:2014, from memory"),
        ("Filter", filter_words(recipe.cfc)),
        ("Interval", interval_words(rating)),
        ("Step", f"{milliseconds(recipe.step_s)}, {rating.samples} samples"),
        ("Corridors", f"{widths} of the test’s peak"),
        ("Largest shift tried", f"{share(settings.largest_shift)} of the interval"),
        ("Warping band", f"{share(settings.warping_band)} of the samples"),
        ("Weights", weights),
    ]


def choice_words(settings: RatingSettings) -> list[tuple[str, str]]:
    """List the other settings of a rating: limits, exponents, and what the published text leaves open.

    Parameters
    ----------
    settings
        Of the rating.

    Returns
    -------
    list of (str, str)
        What is set, and to what.
    """
    rest = {name: value for name, value in settings.as_dict().items() if name not in _TOLD_IN_RECIPE}
    return [
        (_spaced(name).capitalize(), number(value) if isinstance(value, float) else str(value))
        for name, value in rest.items()
    ]


def _setting_words(key: str, value: Any) -> str:
    for ending, (unit, factor) in _ENDINGS.items():
        if key.endswith(ending) and isinstance(value, (int, float)):
            return f"{_spaced(key.removesuffix(ending))} {number(value * factor)} {unit}"
    if key in _UNITS:
        return f"{_spaced(key)} {unit_words(str(value))}"
    return f"{_spaced(key)} {number(value) if isinstance(value, float) else value}"


def _spaced(key: str) -> str:
    return _CHOSEN_WORDS.get(key, key.replace("_", " "))
