"""The words that pictures, pages and reports share, so that one fact reads alike everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.metrics.iso18571 import GRADE_FLOORS

if TYPE_CHECKING:
    from correlate.metrics.iso18571 import Rating

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
    words = ChannelCode(name).describe() if is_channel_code(name) else name
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
