"""Landmarks of curves (onset, peaks, valleys, zero crossings), matched among repeats, and maps between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Kind = Literal["onset", "peak", "valley", "zero crossing"]

PROMINENCE: Final = 0.1
"""Least height of a peak over its surroundings, and least size between two zero crossings, as a share of the
range of the curve; the onset is where this share of the largest size is reached. Chosen here."""
TOP: Final = 0.2
"""A peak is placed in the middle of its upper fifth, which noise moves less than its largest sample."""
LEAST_STEPS: Final = 5.0
"""Landmarks nearer to the one before, or to an end, are left out."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Landmark:
    """One feature that every repeat has.

    Attributes
    ----------
    kind
        ``onset``, ``peak``, ``valley`` or ``zero crossing``.
    of
        Which curve, where several are searched: ``x`` or ``y`` of a cross-plot; else empty.
    common
        Where it is after registration: the mean over the repeats, s or share of the arc.
    own
        Where it is in each repeat.
    """

    kind: Kind
    of: str
    common: float
    own: tuple[float, ...]

    @property
    def moves(self) -> tuple[float, ...]:
        """How far it is moved to later places in each repeat."""
        return tuple(self.common - one for one in self.own)


def landmark_places(curve: Floats) -> list[tuple[Kind, float]]:
    """Return the landmarks of a curve in their order.

    Parameters
    ----------
    curve
        Shape ``(n,)``.

    Returns
    -------
    list of (str, float)
        Kind, and place in samples, between samples where that is found.

    References
    ----------
    .. [1] Peaks by prominence: `scipy.signal.find_peaks`. Limits: chosen here.

    Examples
    --------
    >>> angle = np.linspace(0, 2 * np.pi, 401)
    >>> [(kind, round(float(place))) for kind, place in landmark_places(np.sin(angle))]
    [('onset', 6), ('peak', 100), ('zero crossing', 200), ('valley', 300)]
    """
    height = float(np.ptp(curve))
    if height == 0.0:
        return []
    found: list[tuple[Kind, float]] = [("peak", place) for place in _peaks(curve, height)]
    found += [("valley", place) for place in _peaks(-curve, height)]
    found += [("zero crossing", place) for place in _crossings(curve, PROMINENCE * height)]
    found += [("onset", place) for place in _onset(np.abs(curve))]
    return sorted(found, key=lambda one: one[1])


def _peaks(curve: Floats, height: float) -> list[float]:
    from scipy.signal import find_peaks, peak_widths  # noqa: PLC0415 - slow to load

    places, known = find_peaks(curve, prominence=PROMINENCE * height)
    prominences = (known["prominences"], known["left_bases"], known["right_bases"])
    _, _, left, right = peak_widths(curve, places, rel_height=TOP, prominence_data=prominences)
    return [float(place) for place in (left + right) / 2]


def _crossings(curve: Floats, least: float) -> list[float]:
    """Return where the curve goes from beyond one limit around zero to beyond the other."""
    beyond = np.flatnonzero(np.abs(curve) >= least)
    turns = np.flatnonzero(np.diff(np.sign(curve[beyond])) != 0)
    found = []
    for start, stop in zip(beyond[turns], beyond[turns + 1], strict=True):
        # Noise may cross several times: the middle of all of them is the crossing.
        part = curve[start : stop + 1]
        at = np.flatnonzero(np.sign(part[:-1]) * np.sign(part[1:]) <= 0)
        exact = at + part[at] / np.where(part[at] == part[at + 1], 1.0, part[at] - part[at + 1])
        found.append(float(start + exact.mean()))
    return found


def _onset(size: Floats) -> list[float]:
    limit = PROMINENCE * float(size.max())
    first = int((size >= limit).argmax())
    if first == 0:
        return []
    before, after = float(size[first - 1]), float(size[first])
    return [first - 1 + (limit - before) / (after - before)]


def common_landmarks(
    curves: Floats, template: Floats, *, start: float, step: float, largest_move: float, of: str = ""
) -> tuple[Landmark, ...]:
    """Return the landmarks of a template that every repeat has nearby.

    Parameters
    ----------
    curves
        Shape ``(k, n)``, one row per repeat.
    template
        Shape ``(n,)``: which landmarks are looked for, most often the mean.
    start, step
        Of the axis.
    largest_move
        A landmark counts where each repeat has one of its kind within this of the template's, and within
        this of their mean.
    of
        Name of the curve.

    Returns
    -------
    tuple of Landmark
        In order of `common`; one that a repeat lacks is left out.

    Raises
    ------
    SettingsError
        `largest_move` is not above 0.
    """
    if not 0 < largest_move < float("inf"):
        raise SettingsError(
            f"the largest move of a feature is {largest_move!r}", remedy="give a number above 0"
        )
    listed = [[(kind, start + step * at) for kind, at in landmark_places(curve)] for curve in curves]
    found = []
    for kind, place in [(kind, start + step * at) for kind, at in landmark_places(template)]:
        nearest = [_nearest(places, kind, place) for places in listed]
        own = tuple(one for one in nearest if one is not None and abs(one - place) <= largest_move)
        common = float(np.mean(own)) if own else 0.0
        if len(own) == len(listed) and max(abs(one - common) for one in own) <= largest_move:
            found.append(Landmark(kind=kind, of=of, common=common, own=own))
    return tuple(sorted(found, key=lambda one: one.common))


def _nearest(places: Sequence[tuple[str, float]], kind: str, place: float) -> float | None:
    same = [at for name, at in places if name == kind]
    return min(same, key=lambda at: abs(at - place)) if same else None


def usable_landmarks(
    landmarks: Sequence[Landmark], *, start: float, end: float, least: float
) -> tuple[Landmark, ...]:
    """Return those that come in one order in every repeat, each at least so far after the one before.

    Parameters
    ----------
    landmarks
        In order of `common`.
    start, end
        Of the axis.
    least
        Least distance from the landmark before and from both ends.

    Returns
    -------
    tuple of Landmark
    """
    kept: list[Landmark] = []
    for one in sorted(landmarks, key=lambda mark: mark.common):
        before = (start, *([start] * len(one.own))) if not kept else (kept[-1].common, *kept[-1].own)
        places = (one.common, *one.own)
        after_all = all(place - last >= least for place, last in zip(places, before, strict=True))
        if after_all and max(places) <= end - least:
            kept.append(one)
    return tuple(kept)


def monotone_maps(landmarks: Sequence[Landmark], axis: Floats, count: int) -> Floats:
    """Return where in each repeat the places of the common axis are.

    Parameters
    ----------
    landmarks
        From :func:`usable_landmarks`.
    axis
        Shape ``(n,)``: the common axis, rising. Its ends stay where they are.
    count
        Number of repeats.

    Returns
    -------
    numpy.ndarray
        Shape ``(k, n)``, rising along each row.

    References
    ----------
    .. [1] Monotone piecewise cubic interpolation: Fritsch, Carlson, SIAM Journal on Numerical Analysis 17
       (1980) 238-246, through `scipy.interpolate.PchipInterpolator`. Registration by landmarks: Kneip,
       Gasser, Annals of Statistics 20 (1992) 1266-1305, from memory.
    """
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415 - slow to load

    common = [float(axis[0]), *(one.common for one in landmarks), float(axis[-1])]
    rows = []
    for number in range(count):
        own = [float(axis[0]), *(one.own[number] for one in landmarks), float(axis[-1])]
        row = np.asarray(PchipInterpolator(common, own)(axis))
        row[[0, -1]] = axis[[0, -1]]
        rows.append(row)
    return np.stack(rows)
