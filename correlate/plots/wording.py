"""Words that reports and pages share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.channel import spelt_out
from correlate.metrics.iso18571 import GRADE_FLOORS

if TYPE_CHECKING:
    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Step


CAUTION: Final = (
    "A rating informs; it does not certify: it states how similar two curves are, not whether a model can "
    "be relied on or whether a person is safe. The regulation in force, accredited laboratories and "
    "licensed practice decide."
)
"""The caution under every rating, in terminal, page and dashboard."""

COMPONENTS: Final[dict[str, str]] = {
    "corridor": "how close the model is to the test at each instant",
    "phase": "how little the model must be shifted in time to match best",
    "magnitude": "how similar the magnitudes are after time warping",
    "slope": "how similar the slopes are after the shift",
}
"""The four component scores and what each looks at."""


def as_sentence(words: str) -> str:
    """Return words with a capital first letter and one full stop.

    Parameters
    ----------
    words
        A sentence as messages of errors and reasons have it.

    Returns
    -------
    str

    Examples
    --------
    >>> as_sentence("the tests changed"), as_sentence("Rate again.")
    ('The tests changed.', 'Rate again.')
    """
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


def channel_title(name: str) -> str:
    """Return a channel in text for display.

    Parameters
    ----------
    name
        A channel code, which is described, or a name, which is kept.

    Returns
    -------
    str

    Examples
    --------
    >>> channel_title("D0HEAD0000KMACXP"), channel_title("head x acceleration")
    ('Head acceleration X', 'Head x acceleration')
    """
    words = spelt_out(name)
    return words[:1].upper() + words[1:]


def milliseconds(seconds: float) -> str:
    """Return a time as a short text in ms.

    Parameters
    ----------
    seconds
        A time, in s.

    Returns
    -------
    str

    Examples
    --------
    >>> milliseconds(0.0012), milliseconds(0.02), milliseconds(-0.04)
    ('1.2 ms', '20 ms', '−40 ms')
    """
    return f"{number(seconds * 1e3)} ms"


def number(value: float) -> str:
    """Return a number with at most six digits and a true minus sign.

    Parameters
    ----------
    value
        Any number.

    Returns
    -------
    str

    Examples
    --------
    >>> number(0.1 + 0.2), number(-3.0), number(-0.0)
    ('0.3', '−3', '0')
    """
    return f"{value + 0.0:.6g}".replace("-", "−")


def unit_words(unit: str) -> str:
    """Return a unit with raised powers.

    Parameters
    ----------
    unit
        As a signal gives it.

    Returns
    -------
    str

    Examples
    --------
    >>> unit_words("m/s^2"), unit_words("kN")
    ('m/s²', 'kN')
    """
    return unit.replace("^2", "²").replace("^3", "³")


def grade_zones() -> list[tuple[str, float, float]]:
    """List the grades from the least, each with the ratings it reaches from and to.

    Returns
    -------
    list of (str, float, float)

    Examples
    --------
    >>> grade_zones()[:2]
    [('poor', 0.0, 0.58), ('fair', 0.58, 0.8)]
    """
    words = ["poor", *(word for word, _ in reversed(GRADE_FLOORS))]
    floors = [0.0, *(floor for _, floor in reversed(GRADE_FLOORS))]
    return list(zip(words, floors, [*floors[1:], 1.0], strict=True))


def interval_words(rating: Rating) -> str:
    """Return the interval of evaluation in words.

    Parameters
    ----------
    rating
        Of the pair.

    Returns
    -------
    str
        For instance ``0 ms to 20 ms``.
    """
    return f"{milliseconds(rating.pair.time[0])} to {milliseconds(rating.pair.time[-1])}"


def filter_words(cfc: int | None) -> str:
    """Return a channel frequency class in words.

    Parameters
    ----------
    cfc
        The class, or None for no filter.

    Returns
    -------
    str
    """
    return "no filter" if cfc is None else f"CFC {cfc}"


def share(value: float) -> str:
    """Return a share as a percentage.

    Parameters
    ----------
    value
        0.05 is 5 %.

    Returns
    -------
    str

    Examples
    --------
    >>> share(0.05)
    '5 %'
    """
    return f"{number(value * 100)} %"


def delay_in_words(shift_s: float) -> str:
    """Say how late or early the model is.

    Parameters
    ----------
    shift_s
        Positive when the candidate is late, in s.

    Returns
    -------
    str

    Examples
    --------
    >>> delay_in_words(0.0012), delay_in_words(-0.0004), delay_in_words(0.0)
    ('model 1.2 ms late', 'model 0.4 ms early', 'model on time')
    """
    if shift_s == 0.0:
        return "model on time"
    return f"model {abs(shift_s) * 1e3:.3g} ms {'late' if shift_s > 0 else 'early'}"


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
