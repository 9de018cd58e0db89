"""What the cards can be, given tests, runs and a model whose form may be wrong; and where no card helps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.tuning.gaussian_process import matern
from correlate.tuning.identifiability import EVEN
from correlate.tuning.one_thread import in_one_thread
from correlate.tuning.repeat_scatter import add_blocks, inverse_root, lower_root, variances_of_mean
from correlate.tuning.walkers import walkers_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.coarse_curves import CoarseCurves
    from correlate.tuning.repeat_scatter import RepeatScatter

    Floats = NDArray[np.float64]

SIZES: Final = (0.0, *np.geomspace(0.005, 0.5, 14).tolist())
"""Standard deviations of a discrepancy that are tried, as shares of the size of a channel. Chosen here."""
LENGTHS: Final = (0.05, 0.1, 0.2, 0.4)
"""Its length scales that are tried, as shares of the interval. Chosen here."""
WIDENING: Final = 1.7
"""Factor of the covariance of a discrepancy, which some five independent parts of one curve estimate.

The squared ratio of the 97.5 % quantiles of Student's distribution with 5 degrees of freedom and of the
normal one; chosen by simulation.
"""
FARTHEST: Final = 0.3
"""Farthest that slopes are followed from the optimum, in sides of the cube. Chosen here."""
_FIRST: Final = 0.05
_FIRST_LENGTH: Final = 0.2
CYCLES: Final = 3
"""How often optimum and discrepancies are found in turn. Chosen here."""
STARTS: Final = 4
"""Starts of the search for the optimum. Chosen here."""
SEARCHED: Final = 512
"""Points of the cube that the starts are chosen from. Chosen here."""
CLOUD: Final = 8
"""Points about the optimum that the errors of the emulator are averaged over. Chosen here."""
WALKERS_EACH: Final = 2
"""Walkers for each parameter, and no fewer than ``LEAST_WALKERS``."""
LEAST_WALKERS: Final = 24
BLOCK: Final = 400
"""Steps between two looks at the autocorrelation."""
MOST_STEPS: Final = 6000
LENGTHS_NEEDED: Final = 50
"""Autocorrelation times that a chain must be long. Source: the documentation of emcee (from memory)."""
EFFECTIVE_NEEDED: Final = 400
"""Independent draws that 95 % intervals need. Common practice, no source."""


class CardsModel:
    r"""The density of the cards: tests = emulator + discrepancy + scatter.

    .. math::

        \log p(x) = -\tfrac12 \sum_c (\bar y_c - f_c(x))^\top
            (\Sigma_c / r_c + E_c + D_c)^{-1} (\bar y_c - f_c(x))

    inside the unit cube, over the load cases: :math:`\Sigma / r` is the covariance of the mean of the tests,
    :math:`E` that of the errors of the emulator about the optimum, and :math:`D` that of the discrepancies.

    Parameters
    ----------
    curves, scatter
        Training curves with their tests, and their scatter.
    errors
        Covariances of the errors of the emulator, by load case.
    discrepancies
        Their covariances, by channel, each of shape ``(t, t)``.
    """

    def __init__(
        self,
        curves: CoarseCurves,
        scatter: RepeatScatter,
        errors: Sequence[Floats],
        discrepancies: Sequence[Floats],
    ) -> None:
        self.curves = curves
        self.scatter = scatter
        self.errors = errors
        self.discrepancies = discrepancies
        self._roots: list[tuple[slice, Floats]] = []
        for channels, of_mean, error in zip(curves.load_cases.values(), scatter.of_mean, errors, strict=True):
            whole = add_blocks(of_mean + error, channels, discrepancies)
            place = slice(channels[0].place.start, channels[-1].place.stop)
            self._roots.append((place, inverse_root(whole)))

    def white(self, vectors: Floats) -> Floats:
        """Return vectors of shape ``(m, N)`` in units in which the errors are independent and of size 1."""
        return np.hstack([vectors[:, place] @ root.T for place, root in self._roots])

    def residuals(self, cube: Floats) -> Floats:
        """Return tests less emulator at points of the unit cube, in these units, shape ``(m, N)``."""
        return self.white(self.curves.tests - self.curves.predict(cube))

    def log_density(self, cube: Floats) -> Floats:
        """Return the logarithm of the density at points of shape ``(m, d)``, minus infinity outside."""
        inside = ((cube >= 0) & (cube <= 1)).all(axis=1)
        found = np.full(len(cube), -np.inf)
        if inside.any():
            found[inside] = -0.5 * np.sum(self.residuals(cube[inside]) ** 2, axis=1)
        return found

    def optimum(self, starts: Floats) -> Floats:
        """Return the point of the cube with the largest density that searches from some starts find."""
        from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import

        def away(point: Floats) -> Floats:
            return np.asarray(self.residuals(point[None])[0])

        def slopes(point: Floats) -> Floats:
            return np.asarray(-self.white(slopes_at(self.curves, point)).T)

        inside = np.clip(starts, _EDGE, 1 - _EDGE)
        ends = [
            least_squares(away, start, jac=slopes, bounds=(0.0, 1.0), max_nfev=_MOST_LOOKS)
            for start in inside
        ]
        return np.asarray(min(ends, key=lambda end: float(end.cost)).x)

    def precision(self, point: Floats) -> Floats:
        """Return the inverse of the covariance of the cards about a point, with that of the cube."""
        white = self.white(slopes_at(self.curves, point))
        return np.asarray(white @ white.T + np.eye(point.size) / EVEN**2)


_EDGE: Final = 1e-6
_MOST_LOOKS: Final = 100


def slopes_at(curves: CoarseCurves, point: Floats, step: float = 1e-3) -> Floats:
    """Return how the curves move with each parameter at a point, shape ``(d, N)``."""
    low, high = np.maximum(point - step, 0.0), np.minimum(point + step, 1.0)
    dimension = point.size
    ends = np.tile(point, (2 * dimension, 1))
    places = np.arange(dimension)
    ends[places, places], ends[dimension + places, places] = low, high
    found = curves.predict(ends)
    return np.asarray((found[dimension:] - found[:dimension]) / (high - low)[:, None])


@in_one_thread
def fit_model(
    curves: CoarseCurves, scatter: RepeatScatter, near: Floats, seed: int = 0
) -> tuple[CardsModel, Floats]:
    """Find the optimum of the cards and the discrepancies in turn.

    Parameters
    ----------
    curves, scatter
        Training curves with their tests, and their scatter.
    near
        A point to start from, in the unit cube, shape ``(d,)``.
    seed
        Of the starts and the points about the optimum.

    Returns
    -------
    tuple of CardsModel and numpy.ndarray
        The model and the optimum.

    Notes
    -----
    Size and length of the discrepancy of each channel are averaged over by their likelihood, given what the
    other channels say of the cards, by the slopes at the optimum; the covariance that results is then held.
    This is modular: that the tests say more of the discrepancy for some cards than for others is not part of
    the intervals.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    random = np.random.default_rng(seed)
    first = [_FIRST**2 * smooth_covariance(len(one.time), _FIRST_LENGTH) for one in curves.channels]
    points = qmc.Sobol(near.size, rng=random).random(SEARCHED)
    model = CardsModel(curves, scatter, curves.emulator_covariance(points[:CLOUD]), first)
    density = np.concatenate([model.log_density(part) for part in np.array_split(points, 8)])
    starts = np.vstack([near, points[np.argsort(-density)[: STARTS - 1]]])
    optimum = model.optimum(starts)
    for _ in range(CYCLES):
        errors = _errors_about(model, optimum, random)
        model = CardsModel(curves, scatter, errors, model.discrepancies)
        model = CardsModel(curves, scatter, errors, likely_discrepancies(model, optimum))
        optimum = model.optimum(optimum[None])
    return model, optimum


def _errors_about(model: CardsModel, optimum: Floats, random: np.random.Generator) -> list[Floats]:
    """Return the errors of the emulator where the cards may be."""
    root = np.linalg.cholesky(np.linalg.inv(model.precision(optimum)))
    cloud = optimum + random.standard_normal((CLOUD, optimum.size)) @ root.T
    return model.curves.emulator_covariance(np.clip(cloud, 0.0, 1.0))


def likely_discrepancies(model: CardsModel, optimum: Floats) -> list[Floats]:
    """Return covariances of the discrepancies, averaged over sizes and lengths by their likelihood."""
    curves = model.curves
    slopes, away = slopes_at(curves, optimum), curves.tests - curves.predict(optimum[None])[0]
    plain = _own_covariances(curves, model.scatter, model.errors)
    found = list(model.discrepancies)
    for _ in range(CYCLES):
        roots = [inverse_root(one + wrong) for one, wrong in zip(plain, found, strict=True)]
        whites = [slopes[:, one.place] @ roots[one.number].T for one in curves.channels]
        pulls = [
            white @ (roots[one.number] @ away[one.place])
            for one, white in zip(curves.channels, whites, strict=True)
        ]
        precision = sum(one @ one.T for one in whites) + np.eye(optimum.size) / EVEN**2
        pull = np.sum(pulls, axis=0)
        for one in curves.channels:
            others = precision - whites[one.number] @ whites[one.number].T
            spread = np.linalg.inv(others)
            step = np.clip(spread @ (pull - pulls[one.number]), -FARTHEST, FARTHEST)
            step = np.clip(optimum + step, 0.0, 1.0) - optimum
            own = slopes[:, one.place]
            found[one.number] = _by_likelihood(
                away[one.place] - step @ own, plain[one.number] + own.T @ spread @ own
            )
    return found


def _own_covariances(curves: CoarseCurves, scatter: RepeatScatter, errors: Sequence[Floats]) -> list[Floats]:
    """Return the covariance of tests less emulator of each channel by itself."""
    found = []
    for channels, of_mean, error in zip(curves.load_cases.values(), scatter.of_mean, errors, strict=True):
        first = channels[0].place.start
        places = [slice(one.place.start - first, one.place.stop - first) for one in channels]
        found += [of_mean[place, place] + error[place, place] for place in places]
    return found


def _by_likelihood(away: Floats, covariance: Floats) -> Floats:
    """Return the mean of the covariances of discrepancies, by the likelihood of what is left of a channel."""
    smooth = np.array([smooth_covariance(len(away), length) for length in LENGTHS])
    tried = np.array([size**2 * one for size in SIZES for one in smooth])
    jitter = 1e-10 * np.trace(covariance) / len(away) * np.eye(len(away))
    roots = np.linalg.cholesky(covariance + tried + jitter)
    white = np.linalg.solve(roots, away[:, None])[:, :, 0]
    logs = -0.5 * np.sum(white**2, axis=1) - np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    weights = np.exp(logs - logs.max())
    return np.asarray(WIDENING * np.einsum("k,kij->ij", weights / weights.sum(), tried))


def smooth_covariance(count: int, length: float) -> Floats:
    """Return the covariance of a smooth curve of size 1 over a number of times, shape ``(count, count)``."""
    times = np.arange(count) / count
    return matern(np.abs(times[:, None] - times) / length, 2.5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """Draws of the cards.

    Attributes
    ----------
    draws
        Points of the unit cube, shape ``(n, d)``.
    steps
        That each walker took and that are kept.
    autocorrelation
        Longest autocorrelation time of a parameter, in steps.
    effective
        Independent draws that they are worth.
    """

    draws: Floats
    steps: int
    autocorrelation: float
    effective: float

    @property
    def converged(self) -> bool:
        """Whether the chain is long enough to be believed."""
        return self.steps >= LENGTHS_NEEDED * self.autocorrelation and self.effective >= EFFECTIVE_NEEDED


@in_one_thread
def sample_cards(
    model: CardsModel,
    optimum: Floats,
    *,
    seed: int = 0,
    most_steps: int = MOST_STEPS,
    progress: Callable[[float], None] = lambda _done: None,
) -> Sampled:
    """Draw cards by their density.

    Parameters
    ----------
    model
        The density.
    optimum
        Where the walkers start about, in the unit cube, shape ``(d,)``.
    seed
        Of the walkers.
    most_steps
        After which the chain ends, long enough or not.
    progress
        Told which share of the steps was taken.

    Returns
    -------
    Sampled
        Of the last three quarters of the steps.
    """
    from emcee.autocorr import integrated_time  # noqa: PLC0415 - an extra, slow to import

    dimension = optimum.size
    walkers = max(LEAST_WALKERS, WALKERS_EACH * dimension)
    walkers += walkers % 2
    random = np.random.default_rng(seed)
    root = np.linalg.cholesky(np.linalg.inv(model.precision(optimum)))
    first = _reflected(optimum + random.standard_normal((walkers, dimension)) @ root.T)
    sampler = walkers_of(model.log_density, walkers, dimension, seed)
    state: Any = first
    found = None
    while found is None or (not found.converged and sampler.iteration < most_steps):
        state = sampler.run_mcmc(state, min(BLOCK, most_steps))
        progress(sampler.iteration / most_steps)
        chain = sampler.get_chain(discard=sampler.iteration // 4)
        time = float(np.max(integrated_time(chain, tol=0, quiet=True)))
        found = Sampled(
            draws=chain.reshape(-1, dimension),
            steps=len(chain),
            autocorrelation=time,
            effective=chain.shape[0] * chain.shape[1] / time,
        )
    return found


def _reflected(cube: Floats) -> Floats:
    """Return points with what is outside of the cube folded back into it."""
    folded = np.abs(cube) % 2.0
    return np.where(folded > 1.0, 2.0 - folded, folded)


FALSE_ALARMS: Final = 0.03
"""Probability that a window is claimed anywhere though there is none."""
NULL_DRAWS: Final = 1000
"""Simulated sets of tests that the limit is taken from. Chosen here."""
GAP: Final = 1
"""Windows of a channel with no more than this many times between them are one. Chosen here."""
REACHING: Final = 2048
"""Cards that are asked how near any of them comes. Chosen here."""
REACHED: Final = 2.0
"""Standard errors within which a card reaches the tests. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelGap:
    """What the best cards leave of one channel, in shares of its size.

    Attributes
    ----------
    tests, reached
        Mean of the tests, and the curve of the best cards, shape ``(t,)``.
    half_width
        Of the band about 0 that tests less curve leave by chance, anywhere in any channel, with a probability
        of ``FALSE_ALARMS``, shape ``(t,)``.
    windows
        First and last time of each stretch outside the band.
    reachable
        Of each window, whether some card within its bounds reaches the tests there.
    """

    tests: Floats
    reached: Floats
    half_width: Floats
    windows: tuple[tuple[int, int], ...]
    reachable: tuple[bool, ...]

    @property
    def gap(self) -> Floats:
        """Tests less curve."""
        return self.tests - self.reached


@in_one_thread
def gaps_left(model: CardsModel, optimum: Floats, draws: Floats, *, seed: int = 0) -> list[ChannelGap]:
    r"""Find where the tests differ from the curves of the best cards by more than chance.

    Parameters
    ----------
    model
        With its tests.
    optimum
        The best cards, in the unit cube, shape ``(d,)``.
    draws
        Of the cards, shape ``(n, d)``.
    seed
        Of the simulated tests.

    Returns
    -------
    list of ChannelGap
        By channel.

    Notes
    -----
    At every time the difference is divided by its standard error: of the mean of the tests, of the emulator,
    and of the curves of the drawn cards. The limit is the largest such value over all times of all channels
    with the same number of repeats that simulated tests without a discrepancy stay below with 95 %; they
    scatter as the repeats did, and their scatter is estimated again each time, so that the limit is higher
    where repeats are few. It is shared evenly between the numbers of repeats there are.
    """
    random = np.random.default_rng(seed)
    curves, scatter = model.curves, model.scatter
    reached = curves.predict(optimum[None])[0]
    chosen = draws[random.choice(len(draws), min(len(draws), 200), replace=False)]
    spread = np.vstack([curves.predict(part) for part in np.array_split(chosen, 8)]).var(axis=0)
    known = np.concatenate([np.diag(one) for one in model.errors]) + spread
    error = np.sqrt(_variances(scatter) + known)
    limits = _limits(model, known, random)
    away = curves.tests - reached
    anywhere = _anywhere(curves, optimum.size, random)
    found = []
    for one, limit in zip(curves.channels, limits, strict=True):
        half_width = limit * error[one.place]
        windows = _windows(np.abs(away[one.place]) > half_width)
        found.append(
            ChannelGap(
                tests=curves.tests[one.place],
                reached=reached[one.place],
                half_width=half_width,
                windows=windows,
                reachable=tuple(
                    _reaches(
                        window,
                        away[one.place],
                        half_width / limit,
                        curves.tests[one.place] - anywhere[:, one.place],
                    )
                    for window in windows
                ),
            )
        )
    return found


def _variances(scatter: RepeatScatter) -> Floats:
    return np.concatenate([np.diag(one) for one in scatter.of_mean])


def _limits(model: CardsModel, known: Floats, random: np.random.Generator) -> Floats:
    """Return the limit of each channel, in standard errors."""
    curves, scatter = model.curves, model.scatter
    roots = [lower_root(one) for one in scatter.of_mean]
    repeats = np.array(scatter.repeats)
    tests = [
        np.sqrt(count) * drawn[:, :count]
        for drawn, count in zip(_drawn(curves, roots, int(repeats.max()), random), repeats, strict=True)
    ]
    wrong = [random.standard_normal((NULL_DRAWS, len(one))) @ lower_root(one).T for one in model.errors]
    away = np.hstack([one.mean(axis=1) for one in tests]) + np.hstack(wrong)
    shares = np.abs(away) / np.sqrt(variances_of_mean(tests) + known)
    largest = np.array([shares[:, one.place].max(axis=1) for one in curves.channels])
    limits = np.zeros(len(curves.channels))
    counts = np.unique(repeats)
    for count in counts:
        group = repeats == count
        limits[group] = np.quantile(largest[group].max(axis=0), 1 - FALSE_ALARMS / len(counts))
    return limits


def _drawn(
    curves: CoarseCurves, roots: Sequence[Floats], repeats: int, random: np.random.Generator
) -> list[Floats]:
    """Draw means of tests without a discrepancy, about 0, of each channel ``(NULL_DRAWS, repeats, t)``."""
    found: list[Floats] = []
    for channels, root in zip(curves.load_cases.values(), roots, strict=True):
        drawn = random.standard_normal((NULL_DRAWS, repeats, len(root))) @ root.T
        first = channels[0].place.start
        found += [drawn[:, :, one.place.start - first : one.place.stop - first] for one in channels]
    return found


def _anywhere(curves: CoarseCurves, dimension: int, random: np.random.Generator) -> Floats:
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    points = qmc.Sobol(dimension, rng=random).random(REACHING)
    return np.vstack([curves.predict(part) for part in np.array_split(points, 64)])


def _windows(outside: NDArray[np.bool_]) -> tuple[tuple[int, int], ...]:
    """Return first and last place of each stretch, those that are close taken together."""
    found: list[tuple[int, int]] = []
    for place in np.flatnonzero(outside).tolist():
        if found and place - found[-1][1] <= GAP + 1:
            found[-1] = (found[-1][0], place)
        else:
            found.append((place, place))
    return tuple(found)


def _reaches(window: tuple[int, int], away: Floats, error: Floats, others: Floats) -> bool:
    """Say whether any card brings the mean of a window to the tests."""
    inside = slice(window[0], window[1] + 1)
    side = np.sign(away[inside].mean())
    nearest = float(np.min(side * others[:, inside].mean(axis=1)))
    return nearest <= REACHED * float(error[inside].mean())
