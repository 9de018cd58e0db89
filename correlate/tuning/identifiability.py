"""Which parameters, and which of their combinations, the tests determine."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import frame, short_repr
from correlate.tuning.repeat_scatter import inverse_root

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.tuning.coarse_curves import CoarseCurves
    from correlate.tuning.parameters import Parameter, ParameterSpace
    from correlate.tuning.repeat_scatter import RepeatScatter

    Floats = NDArray[np.float64]

EVEN: Final = float(np.sqrt(1 / 12))
"""Standard deviation of a value that can be anything in its range, in sides of the cube."""
LOOSE: Final = 0.5
"""A direction that keeps more than this share of that is not determined. Chosen here; see the simulations."""
STEP: Final = 0.1
"""Half of the step that sensitivities are measured over, in sides of the cube. Chosen here."""
MOST_TOGETHER: Final = 3
"""Most parameters whose combinations are tried one by one. Chosen here."""
SAID: Final = 0.25
"""A parameter with a smaller share than this of the largest in a direction is not named. Chosen here."""
CHANGE: Final = 0.10
"""Change of a parameter that an exchange is told with. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LooseDirection:
    """A parameter, or a line along which parameters can be exchanged, that the tests do not determine.

    Attributes
    ----------
    names
        Of the parameters.
    direction
        In sides of the cube, of length 1, shape ``(d,)``.
    deviation
        Standard deviation along it that the tests leave, in sides of the cube.
    sure
        Whether the runs show that it is so; otherwise more runs near the point may show that it is not.
    words
        One sentence.
    """

    names: tuple[str, ...]
    direction: Floats
    deviation: float
    sure: bool
    words: str


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Identifiability:
    """What the tests determine at one point.

    Attributes
    ----------
    names
        Of the parameters.
    point
        In the unit cube, shape ``(d,)``.
    information, doubt
        Fisher information of the tests, and the part of it that may be an error of the emulator, per side of
        the cube, shape ``(d, d)``.
    eigenvalues, directions
        Of the information, least first, shapes ``(d,)`` and ``(d, d)``, a direction a row.
    deviations
        Standard deviation along each direction, in sides of the cube, shape ``(d,)``: 0.29 where the tests
        say nothing.
    loose
        What the tests do not determine: single parameters first, then exchanges of two, and of more.
    """

    names: tuple[str, ...]
    point: Floats
    information: Floats
    doubt: Floats
    eigenvalues: Floats
    directions: Floats
    deviations: Floats
    loose: tuple[LooseDirection, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """One sentence a finding."""
        return tuple(one.words for one in self.loose)

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per direction: its deviation and the share of each parameter.

        Returns
        -------
        pandas.DataFrame
            ``deviation``, then a column per parameter.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(
            {"deviation": float(deviation), **dict(zip(self.names, direction.tolist(), strict=True))}
            for deviation, direction in zip(self.deviations, self.directions, strict=True)
        )


def deviation_of(information: float) -> float:
    r"""Return the standard deviation that information leaves of a value in a range of length 1.

    .. math:: \sigma = 1 / \sqrt{\lambda + 12}

    A range says as much of a value as a normal distribution of variance 1/12.

    Examples
    --------
    >>> round(deviation_of(0.0), 3), round(deviation_of(9988.0), 3)
    (0.289, 0.01)
    """
    return float(1.0 / np.sqrt(max(information, 0.0) + 1 / EVEN**2))


def identify(
    curves: CoarseCurves, scatter: RepeatScatter, space: ParameterSpace, point: Floats
) -> Identifiability:
    r"""Find out what the tests determine near a point.

    .. math::

        F = \sum_c J_c^\top (\Sigma_c / r_c + E_c)^{-1} J_c

    over the load cases, with the slopes :math:`J` of the curves over a tenth of a side of the cube to each
    side, the scatter of the mean of the tests, and the errors :math:`E` of the emulator there. Of the part of
    :math:`F` that the doubt of the emulator about the slopes can make by itself, nothing is believed: it is
    taken off the information along each direction.

    Parameters
    ----------
    curves, scatter
        Training curves and the scatter of their tests.
    space
        Of the parameters.
    point
        In the unit cube, shape ``(d,)``.

    Returns
    -------
    Identifiability

    References
    ----------
    .. [1] Fisher information of a normal distribution with known covariance: textbook. The doubt, and the
       search for the fewest parameters that explain a direction: derived here.
    """
    slopes, information, doubt = fisher_information(curves, scatter, point)
    eigenvalues, vectors = np.linalg.eigh(information)
    left = eigenvalues - np.sum(vectors * (doubt @ vectors), axis=0)
    return Identifiability(
        names=space.names,
        point=point,
        information=information,
        doubt=doubt,
        eigenvalues=eigenvalues,
        directions=vectors.T,
        deviations=np.array([deviation_of(float(one)) for one in left]),
        loose=loose_directions(information, doubt, slopes / scatter.of_one, space, point),
    )


def fisher_information(
    curves: CoarseCurves, scatter: RepeatScatter, point: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return slopes of the curves, ``(d, N)``, information of the tests and its doubt, ``(d, d)`` each."""
    dimension = point.size
    low, high = np.maximum(point - STEP, 0.0), np.minimum(point + STEP, 1.0)
    ends = np.tile(point, (2 * dimension, 1))
    places = np.arange(dimension)
    ends[places, places], ends[dimension + places, places] = low, high
    across = np.hstack([-np.diag(1.0 / (high - low)), np.diag(1.0 / (high - low))])
    slopes = across @ curves.predict(ends)
    unknown = across @ curves.processes.covariances(ends) @ across.T
    amounts = curves.processes.means(point[None])[0]
    errors = curves.emulator_covariance(ends)
    information, doubt = np.zeros((dimension, dimension)), np.zeros((dimension, dimension))
    for channels, of_mean, error in zip(curves.load_cases.values(), scatter.of_mean, errors, strict=True):
        first, last = channels[0].place.start, channels[-1].place.stop
        root = inverse_root(of_mean + error)
        white = root @ slopes[:, first:last].T
        information += white.T @ white
        for one in channels:
            moved = (
                root[:, one.place.start - first : one.place.stop - first] @ one.slopes(amounts[one.amounts]).T
            )
            doubt += np.einsum("p,pij->ij", np.sum(moved**2, axis=0), unknown[one.amounts])
    return slopes, information, doubt


def loose_directions(
    information: Floats, doubt: Floats, slopes: Floats, space: ParameterSpace, point: Floats
) -> tuple[LooseDirection, ...]:
    """Return what the tests do not determine, each told with the fewest parameters.

    Parameters
    ----------
    information, doubt
        Per side of the cube, each of shape ``(d, d)``.
    slopes
        Of the curves per side of the cube, in standard deviations of one test, shape ``(d, N)``.
    space
        Of the parameters.
    point
        In the unit cube, shape ``(d,)``: exchanges are told from here.

    Returns
    -------
    tuple of LooseDirection
        Sets of one, two and three parameters are tried, all others held; a set that holds an undetermined
        one is passed over. What remains is told as directions of all parameters.
    """
    dimension = len(information)
    found: list[tuple[tuple[int, ...], Floats]] = []
    for count in range(1, min(MOST_TOGETHER, dimension) + 1):
        for chosen in combinations(range(dimension), count):
            if any(set(one) <= set(chosen) for one, _ in found):
                continue
            direction = np.zeros(dimension)
            direction[list(chosen)] = np.linalg.eigh(information[np.ix_(chosen, chosen)])[1][:, 0]
            known = [one for _, one in found]
            if _is_loose(_along(information - doubt, direction)) and _is_new(direction, known):
                found.append((chosen, direction))
    found += _remaining(information, doubt, [direction for _, direction in found])
    told = []
    for chosen, direction in found:
        sure = _is_loose(_along(information + doubt, direction))
        rate = float(np.abs(direction @ slopes).max())
        told.append(
            LooseDirection(
                names=tuple(space.names[one] for one in chosen),
                direction=direction,
                deviation=deviation_of(_along(information - doubt, direction)),
                sure=sure,
                words=_words(space, point, chosen, direction, rate) + ("" if sure else UNSURE),
            )
        )
    return tuple(told)


UNSURE: Final = ", as far as the runs show"
"""Said where the slopes of the curves are known too little."""
NEW: Final = 0.5
"""A direction is told if its part at right angles to those told before is longer than this. Chosen here."""


def _is_new(direction: Floats, known: list[Floats]) -> bool:
    if not known:
        return True
    parts, *_ = np.linalg.lstsq(np.array(known).T, direction, rcond=None)
    return float(np.linalg.norm(direction - np.array(known).T @ parts)) > NEW


def _along(information: Floats, direction: Floats) -> float:
    return float(direction @ information @ direction)


def _is_loose(information: float) -> bool:
    return deviation_of(information) > LOOSE * EVEN


def _remaining(
    information: Floats, doubt: Floats, known: list[Floats]
) -> list[tuple[tuple[int, ...], Floats]]:
    """Return undetermined directions at right angles to those that are known."""
    dimension = len(information)
    if known:
        left, sizes, _ = np.linalg.svd(np.array(known).T)
        rank = int(np.sum(sizes > 1e-6))
        rest = left[:, rank:]
    else:
        rest = np.eye(dimension)
    if rest.shape[1] == 0:
        return []
    found = []
    for vector in (rest @ np.linalg.eigh(rest.T @ information @ rest)[1]).T:
        if _is_loose(_along(information - doubt, vector)):
            large = np.flatnonzero(np.abs(vector) >= SAID * np.abs(vector).max())
            found.append((tuple(large.tolist()), vector))
    return found


def _words(
    space: ParameterSpace, point: Floats, chosen: tuple[int, ...], direction: Floats, rate: float
) -> str:
    """Say what is not determined."""
    names = [f"'{space.names[one]}'" for one in chosen]
    if len(chosen) == 1:
        return f"the tests do not determine {names[0]}"
    listed = " and ".join([", ".join(names[:-1]), names[-1]])
    said = f"{listed} can be exchanged along a line"
    old = space.from_unit(point)
    changes = exchange(space, point, direction, rate)
    if not np.any(changes):
        return f"{said}, at whose end the point is"
    told = [
        _change(space.parameters[one], float(old[one]), float(changes[one]))
        for one in sorted(chosen, key=lambda one: -changes[one])
    ]
    line = f"{told[0]} with {' and '.join(told[1:])}"
    return f"{said}: {line} changes no curve by more than the scatter of the tests"


def exchange(space: ParameterSpace, point: Floats, direction: Floats, rate: float) -> Floats:
    """Return a step along a direction as changes of the parameters in their units, shape ``(d,)``.

    The longest that stays in the box, and changes no curve by more than a standard deviation of one test
    (which ``rate`` steps of a side do) and no parameter by more than a tenth of its value; zero where the box
    ends.
    """
    side = direction if _room(point, direction) >= _room(point, -direction) else -direction
    step = min(_room(point, side), 1.0 / max(rate, 1e-12))
    old = space.from_unit(point)
    most = CHANGE * np.where(old == 0, np.inf, np.abs(old))

    def changes(length: float) -> Floats:
        return np.asarray(space.from_unit(np.clip(point + length * side, 0.0, 1.0)) - old)

    low = 0.0 if np.any(np.abs(changes(step)) > most) else step
    for _ in range(_HALVINGS):
        middle = (low + step) / 2
        low, step = (low, middle) if np.any(np.abs(changes(middle)) > most) else (middle, step)
    return changes(low) if low > _NO_ROOM else np.zeros_like(old)


_HALVINGS: Final = 40
_NO_ROOM: Final = 1e-3
"""Steps shorter than this, in sides of the cube, are no step. Chosen here."""


def _room(point: Floats, side: Floats) -> float:
    """Return how far the box reaches from a point to a side."""
    moving = np.abs(side) > 0
    ends = np.where(side > 0, 1.0 - point, point)
    return float(np.min(ends[moving] / np.abs(side[moving])))


def _change(parameter: Parameter, old: float, change: float) -> str:
    """Say a change of a parameter, in percent where it has a value to change."""
    shown = f"{100 * change / abs(old):+.2g} %" if old else f"{change:+.2g} {parameter.unit}"
    return f"{shown.replace('-', '−')} of '{parameter.name}'"
