"""Everything that is learned from the runs at once: surrogates, sensitivities, proposals."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.tuning.limits import needed_outcomes
from correlate.tuning.proposals import propose
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN
from correlate.tuning.sensitivity import sensitivity
from correlate.tuning.surrogate import LEAST_RUNS, fit_surrogates

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.proposals import Proposal
    from correlate.tuning.runs import RunTable
    from correlate.tuning.sensitivity import Sensitivity
    from correlate.tuning.surrogate import Surrogate

RATINGS: Final = "load case/"
"""How the names of the ratings of load cases begin."""

_FITTING: Final = 0.6
_SENSING: Final = 0.3


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TuningFit:
    """What the runs of a project say.

    Attributes
    ----------
    surrogates
        By outcome: what is to be raised, what must be kept, then the ratings.
    sensitivities
        Of those that move and are ratings, by outcome.
    proposals
        The next runs; none where the surrogates are not to be trusted.
    refusal
        Why there are no proposals; empty when there are.
    runs_sha256
        Of the runs it was made from.
    """

    surrogates: dict[str, Surrogate]
    sensitivities: dict[str, Sensitivity]
    proposals: tuple[Proposal, ...]
    refusal: str
    runs_sha256: str


def fit_everything(
    table: RunTable,
    goal: TuningGoal,
    *,
    runs: int = 8,
    seed: int = 0,
    progress: Callable[[float, str], None] = lambda _done, _words: None,
) -> TuningFit:
    """Fit the surrogates of a project, ask them what moves the ratings, and propose the next runs.

    Parameters
    ----------
    table
        Of the runs.
    goal
        What tuning is to raise, and what it must keep.
    runs
        How many to propose.
    seed
        Of the sampling.
    progress
        Told how far it is, from 0 to 1, and what is done; what it raises ends the work.

    Returns
    -------
    TuningFit

    Raises
    ------
    SettingsError
        Too few runs are finished, or none of the start point is.
    """
    names = fitted_outcomes(table, goal)
    surrogates: dict[str, Surrogate] = {}
    for place, name in enumerate(names):
        progress(_FITTING * place / len(names), f"fitting {name}")
        surrogates |= fit_surrogates(table, [name])
    moving = [name for name in names if not surrogates[name].flat and not name.startswith("window/")]
    found: dict[str, Sensitivity] = {}
    for place, name in enumerate(moving):
        progress(_FITTING + _SENSING * place / len(moving), f"asking what moves {name}")
        found[name] = sensitivity(surrogates[name], seed=seed)
    progress(_FITTING + _SENSING, "looking for the next runs")
    proposals: tuple[Proposal, ...] = ()
    refusal = ""
    try:
        proposals = propose(table, surrogates, goal, runs, seed)
    except SettingsError as error:
        refusal = str(error)
    return TuningFit(
        surrogates=surrogates,
        sensitivities=found,
        proposals=proposals,
        refusal=refusal,
        runs_sha256=runs_sha256(table),
    )


def fitted_outcomes(table: RunTable, goal: TuningGoal) -> list[str]:
    """Name the outcomes to fit: what is to be raised and kept, then the ratings that enough runs have.

    Parameters
    ----------
    table
        Of the runs.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    list of str
    """
    ratings = [
        name
        for name, values in table.outcomes.items()
        if (name in {TRAIN, HELD_OUT, OVERALL} or name.startswith(RATINGS))
        and int((values == values)[table.done].sum()) >= LEAST_RUNS  # noqa: PLR0124 - only nan differs
    ]
    return list(dict.fromkeys([*needed_outcomes(table, goal), *ratings]))


def runs_sha256(table: RunTable) -> str:
    """Return the hash of everything that a fit is made from.

    Parameters
    ----------
    table
        Of the runs.

    Returns
    -------
    str
    """
    found = hashlib.sha256(repr((table.space.names, table.status, sorted(table.outcomes))).encode())
    for values in (table.points, table.space.lower, table.space.upper):
        found.update(values.tobytes())
    for name in sorted(table.outcomes):
        found.update(table.outcomes[name].tobytes())
    return found.hexdigest()
