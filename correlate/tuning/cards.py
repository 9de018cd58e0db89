"""What the tests say of the cards of a project: intervals, exchanges, and where no card helps."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import CorrelateError, FormatError
from correlate.files import write_json
from correlate.plain_files import read_json
from correlate.tuning.coarse_curves import coarse_curves
from correlate.tuning.definition import load_tuning
from correlate.tuning.discrepancy import (
    EFFECTIVE_NEEDED,
    LENGTHS_NEEDED,
    fit_model,
    gaps_left,
    sample_cards,
)
from correlate.tuning.fitted_curves import fit_curves
from correlate.tuning.fitting import FILE as FIT_FILE
from correlate.tuning.fitting import read_fit, runs_sha256
from correlate.tuning.guards import best_row
from correlate.tuning.identifiability import identify
from correlate.tuning.overview import saved_curves
from correlate.tuning.repeat_scatter import repeat_scatter
from correlate.tuning.runs import read_state, run_table

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.tuning.coarse_curves import CoarseChannel, CoarseCurves
    from correlate.tuning.definition import Tuning
    from correlate.tuning.discrepancy import ChannelGap
    from correlate.tuning.identifiability import Identifiability
    from correlate.tuning.runs import RunTable, TuningState

    Floats = NDArray[np.float64]

FILE: Final = "cards.json"
"""Name beside the tuning file."""
_FORM: Final = 1
LEVEL: Final = 0.95
"""Probability of the intervals."""
CAUSE: Final = (
    "the form of the model, or the tests or how they are compared (sign, filter, zero), is wrong here"
)
"""What a discrepancy may mean; the curves alone cannot tell which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardInterval:
    """What the tests say of one parameter.

    Attributes
    ----------
    name, unit, scale
        Of the parameter.
    lower, upper, start
        Its range, and its value before tuning.
    best
        Of the best run that keeps the limits.
    median, low, high
        With a probability of 95 % the value lies from ``low`` to ``high``.
    left
        Length of this interval, as a share of that of a value that can be anything in the range: 1 where the
        tests say nothing.
    """

    name: str
    unit: str
    scale: str
    lower: float
    upper: float
    start: float
    best: float
    median: float
    low: float
    high: float
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CardDirection:
    """One direction of the cards.

    Attributes
    ----------
    deviation
        Standard deviation along it that the tests leave, in ranges of a parameter; 0.29 where they say
        nothing.
    shares
        Of each parameter in the direction, of length 1 together.
    """

    deviation: float
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MisfitWindow:
    """A part of a curve where the tests differ from that of the best cards by more than chance.

    Attributes
    ----------
    load_case, channel, unit
        Of the curve.
    start_s, end_s
        From when to when, in s.
    largest
        Largest difference, tests less curve, in the unit.
    share
        Area of the difference, over the largest value of the tests times their duration: what the windows
        are ordered by.
    reachable
        Whether some card within its bounds reaches the tests there, at the cost of other curves.
    """

    load_case: str
    channel: str
    unit: str
    start_s: float
    end_s: float
    largest: float
    share: float
    reachable: bool

    @property
    def words(self) -> str:
        """One sentence."""
        shown = f"{abs(self.largest):.3g}" + ("" if self.unit == "1" else f" {self.unit}")
        side = "above" if self.largest > 0 else "below"
        where = (
            f"{self.load_case}, {self.channel}, {1e3 * self.start_s:.3g} to {1e3 * self.end_s:.3g} ms: "
            f"the tests are up to {shown} {side}"
        )
        if self.reachable:
            return f"{where} the best-fit curve, and parameters that reach them make others worse; {CAUSE}"
        return f"{where} what any parameters within their bounds are expected to reach; {CAUSE}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelFit:
    """A curve as the best cards reach it.

    Attributes
    ----------
    load_case, channel, unit
        Of the curve.
    repeats
        Number of tests.
    time_s, tests, reached
        Times in s, the mean of the tests and the curve of the best cards, shape ``(t,)``.
    half_width
        Tests less curve stay within this about 0 by chance, in all channels together with a probability of
        97 %, shape ``(t,)``.
    """

    load_case: str
    channel: str
    unit: str
    repeats: int
    time_s: Floats
    tests: Floats
    reached: Floats
    half_width: Floats


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardsPosterior:
    """What the tests say of the cards.

    Attributes
    ----------
    intervals
        By parameter.
    directions
        At the best run, the least determined first.
    undetermined
        Sentences about parameters and exchanges that the tests do not determine there.
    windows
        Where no card helps, the largest first.
    channels
        The curves, with what the best cards leave of them.
    best
        Name of the best run.
    autocorrelation, effective
        Longest autocorrelation time of the draws, in steps, and how many independent draws they are worth.
    converged
        Whether there are enough of them; otherwise the intervals are not reliable.
    assumed
        Channels with one test, whose scatter is assumed.
    seed
        Of the sampling.
    runs_sha256
        Of the runs it was made from.
    """

    intervals: tuple[CardInterval, ...]
    directions: tuple[CardDirection, ...]
    undetermined: tuple[str, ...]
    windows: tuple[MisfitWindow, ...]
    channels: tuple[ChannelFit, ...]
    best: str
    autocorrelation: float
    effective: float
    converged: bool
    assumed: tuple[str, ...]
    seed: int
    runs_sha256: str

    @property
    def doubts(self) -> tuple[str, ...]:
        """Sentences about what to doubt of it; none when all is well."""
        found = []
        if not self.converged:
            found.append(
                f"the sampling did not converge ({self.effective:.0f} independent draws of "
                f"{EFFECTIVE_NEEDED} needed, {LENGTHS_NEEDED} autocorrelation times of "
                f"{self.autocorrelation:.0f} steps needed): the intervals are not reliable"
            )
        if self.assumed:
            found.append(
                f"the scatter of curves with one test is assumed ({'; '.join(self.assumed)}): intervals and "
                "windows depend on it"
            )
        return tuple(found)

    def is_old(self, table: RunTable) -> bool:
        """Whether the runs are others than those it was made from."""
        return self.runs_sha256 != runs_sha256(table)

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per parameter.

        Returns
        -------
        pandas.DataFrame
            The fields of :class:`CardInterval`.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(asdict(one) for one in self.intervals)


def tuning_cards(
    folder: str | Path,
    *,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> CardsPosterior:
    """Find out what the tests say of the cards of a project, and keep it beside the tuning file.

    Parameters
    ----------
    folder
        That holds ``tuning.toml``.
    seed
        Of the sampling; equal seeds give equal results.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work, and what was kept
        before stays.

    Returns
    -------
    CardsPosterior

    Raises
    ------
    CorrelateError
        There is no tuning project, too few runs are finished, their curves cannot be emulated, or the folder
        may not be written to.
    """
    tuning = load_tuning(folder)
    found = find_cards(tuning, read_state(tuning), seed=seed, progress=progress)
    write_cards(tuning.folder / FILE, found)
    return found


def find_cards(
    tuning: Tuning,
    state: TuningState,
    *,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> CardsPosterior:
    """Find out what the tests say of the cards as :func:`tuning_cards` does, and save nothing."""
    table = run_table(tuning, state)
    row = best_row(table, tuning.goal)
    best = table.space.to_unit(table.points[row])
    curves = training_curves(
        tuning, state, table, progress=lambda done, words: progress(_EMULATING * done, words)
    )
    scatter = repeat_scatter(curves)
    progress(_EMULATING, "fitting the cards")
    local = identify(curves, scatter, table.space, best)
    model, optimum = fit_model(curves, scatter, best, seed)
    sampled = sample_cards(
        model,
        optimum,
        seed=seed,
        progress=lambda done: progress(_EMULATING + (_SAMPLED - _EMULATING) * done, "sampling the cards"),
    )
    progress(_SAMPLED, "comparing the curves with the tests")
    gaps = gaps_left(model, optimum, sampled.draws, seed=seed)
    return CardsPosterior(
        intervals=_intervals(table, row, sampled.draws),
        directions=_directions(local),
        undetermined=local.words,
        windows=_windows(curves, gaps),
        channels=tuple(_channel_fit(one, gap) for one, gap in zip(curves.channels, gaps, strict=True)),
        best=table.identities[row],
        autocorrelation=sampled.autocorrelation,
        effective=sampled.effective,
        converged=sampled.converged,
        assumed=tuple(
            f"{one.channel.load_case}, {one.channel.channel}"
            for one in curves.channels
            if len(one.tests) == 1
        ),
        seed=seed,
        runs_sha256=runs_sha256(table),
    )


def identified(tuning: Tuning, state: TuningState, table: RunTable) -> Identifiability:
    """Find out what the tests determine at the best run of a project.

    Parameters
    ----------
    tuning, state, table
        The project, its records and runs.

    Returns
    -------
    Identifiability

    Raises
    ------
    CorrelateError
        Too few runs are finished, or their curves cannot be emulated.
    """
    curves = training_curves(tuning, state, table)
    best = table.space.to_unit(table.points[best_row(table, tuning.goal)])
    return identify(curves, repeat_scatter(curves), table.space, best)


_EMULATING: Final = 0.4
_SAMPLED: Final = 0.95


def training_curves(
    tuning: Tuning,
    state: TuningState,
    table: RunTable,
    *,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> CoarseCurves:
    """Return the training curves by the saved emulator if it is of these runs, otherwise by a new one."""
    try:
        fit = read_fit(tuning.folder / FIT_FILE, table)
    except CorrelateError:
        fit = None  # damaged or of other parameters: said where the fit itself is shown
    if fit is not None and fit.runs_sha256 == runs_sha256(table):
        saved, _ = saved_curves(tuning)
        if saved is not None:
            return coarse_curves(saved.emulator, saved.curves, tuning.goal.train)
    fitted = fit_curves(tuning, state, table, progress=progress)
    return coarse_curves(fitted.emulator, fitted.traces.curves, tuning.goal.train)


def _intervals(table: RunTable, row: int, draws: Floats) -> tuple[CardInterval, ...]:
    tail = (1 - LEVEL) / 2
    ends = np.quantile(draws, [tail, 0.5, 1 - tail], axis=0)
    low, median, high = table.space.from_unit(np.clip(ends, 0.0, 1.0))
    return tuple(
        CardInterval(
            name=one.name,
            unit=one.unit,
            scale=one.scale,
            lower=one.lower,
            upper=one.upper,
            start=one.start,
            best=float(table.points[row, place]),
            median=float(median[place]),
            low=float(low[place]),
            high=float(high[place]),
            left=min(1.0, float(ends[2, place] - ends[0, place]) / LEVEL),
        )
        for place, one in enumerate(table.space.parameters)
    )


def _directions(local: Identifiability) -> tuple[CardDirection, ...]:
    order = np.argsort(-local.deviations, kind="stable")
    return tuple(
        CardDirection(
            deviation=float(local.deviations[place]),
            shares=dict(zip(local.names, local.directions[place].tolist(), strict=True)),
        )
        for place in order
    )


def _windows(curves: CoarseCurves, gaps: Sequence[ChannelGap]) -> tuple[MisfitWindow, ...]:
    found = []
    for one, gap in zip(curves.channels, gaps, strict=True):
        for (first, last), reachable in zip(gap.windows, gap.reachable, strict=True):
            away = gap.gap[first : last + 1]
            start, end = one.ends_s(first, last)
            found.append(
                MisfitWindow(
                    load_case=one.channel.load_case,
                    channel=one.channel.channel,
                    unit=one.channel.unit,
                    start_s=start,
                    end_s=end,
                    largest=float(one.size * away[np.argmax(np.abs(away))]),
                    share=float(np.abs(away).sum() / gap.gap.size),
                    reachable=reachable,
                )
            )
    return tuple(sorted(found, key=lambda window: -window.share))


def _channel_fit(one: CoarseChannel, gap: ChannelGap) -> ChannelFit:
    return ChannelFit(
        load_case=one.channel.load_case,
        channel=one.channel.channel,
        unit=one.channel.unit,
        repeats=len(one.tests),
        time_s=one.time,
        tests=one.size * gap.tests,
        reached=one.size * gap.reached,
        half_width=one.size * gap.half_width,
    )


def cards_content(cards: CardsPosterior) -> dict[str, Any]:
    """Return all of it as plain values, for JSON."""
    content = asdict(cards)
    for line in content["channels"]:
        line |= {name: line[name].tolist() for name in _CURVES}
    return {"form": _FORM, **content}


_CURVES: Final = ("time_s", "tests", "reached", "half_width")


def write_cards(path: Path, cards: CardsPosterior) -> None:
    """Write what was found, completely or not at all."""
    write_json(path, cards_content(cards))


def read_cards(path: str | Path, table: RunTable) -> CardsPosterior | None:
    """Read what was found; None where there is no file.

    Parameters
    ----------
    path
        Of the file.
    table
        Runs of the project. See :meth:`CardsPosterior.is_old`.

    Returns
    -------
    CardsPosterior or None

    Raises
    ------
    FormatError
        The file is damaged, of another version of the program, or of other parameters.
    """
    path = Path(path)
    try:
        content: Any = read_json(path)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise _no_cards(path, "it cannot be read") from error
    if not isinstance(content, dict) or content.get("form") != _FORM:
        raise _no_cards(path, "it was written by another version of the program")
    try:
        found = _cards(content)
    except (KeyError, TypeError, ValueError) as error:
        raise _no_cards(path, "it is damaged") from error
    if tuple(one.name for one in found.intervals) != table.space.names:
        raise _no_cards(path, "it has other parameters")
    return found


def _cards(content: Mapping[str, Any]) -> CardsPosterior:
    rest = {
        name: value
        for name, value in content.items()
        if name not in {"form", "intervals", "directions", "undetermined", "windows", "channels", "assumed"}
    }
    return CardsPosterior(
        intervals=tuple(CardInterval(**one) for one in content["intervals"]),
        directions=tuple(CardDirection(**one) for one in content["directions"]),
        undetermined=tuple(content["undetermined"]),
        windows=tuple(MisfitWindow(**one) for one in content["windows"]),
        channels=tuple(
            ChannelFit(**{**one, **{name: np.array(one[name], dtype=np.float64) for name in _CURVES}})
            for one in content["channels"]
        ),
        assumed=tuple(content["assumed"]),
        **rest,
    )


def _no_cards(path: Path, why: str) -> FormatError:
    return FormatError(
        f"is not a file of cards: {why}", where=str(path), remedy="run 'correlate tune cards' again"
    )
