"""What is known of every design point: where it lies, how its run ended, what it was worth."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.tuning.parameters import ParameterSpace

Status = Literal["done", "failed", "timed out", "unstable", "waiting"]
STATUSES: Final[tuple[str, ...]] = get_args(Status)

OVERALL: Final = "overall"
TRAIN: Final = "train"
HELD_OUT: Final = "held-out"
_NAMED: Final = 8


def outcome_name(kind: str, *parts: str) -> str:
    """Return the name of an outcome.

    Parameters
    ----------
    kind
        ``load case``, ``channel``, ``component``, ``feature``, ``window``, or ``spread``: how far the rating
        of a load case scatters over the repeats of its tests, as a standard deviation.
    parts
        From the outer to the inner: load case, channel, and what of it.

    Returns
    -------
    str

    Examples
    --------
    >>> outcome_name("component", "head-drop", "head ax", "phase")
    'component/head-drop/head ax/phase'
    """
    return "/".join((kind, *parts))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RunTable:
    """Every design point with its run.

    Attributes
    ----------
    space
        Of the parameters.
    points
        Shape ``(n, d)``, in the units of the parameters; read-only.
    status
        How each run ended: one of ``STATUSES``.
    outcomes
        By name, shape ``(n,)``, nan where the run is not done or has no such outcome; read-only. Names are
        ``overall``, ``train``, ``held-out`` and those of ``outcome_name``.
    rounds
        Shape ``(n,)``, integers: 0 is the design, 1 and up the batches proposed after it.
    identities
        One a run, for people and folders.

    Raises
    ------
    SettingsError
        Columns of different length, or a status that is none.
    """

    space: ParameterSpace
    points: NDArray[np.float64]
    status: tuple[str, ...]
    outcomes: Mapping[str, NDArray[np.float64]]
    rounds: NDArray[np.int64]
    identities: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse columns that do not belong together, and freeze the others."""
        count = len(self.status)
        if self.points.shape != (count, len(self.space.parameters)):
            raise SettingsError(f"points of shape {self.points.shape} do not fit {count} runs")
        if self.rounds.shape != (count,) or any(one.shape != (count,) for one in self.outcomes.values()):
            raise SettingsError("the columns of the runs have different lengths")
        if self.identities and len(self.identities) != count:
            raise SettingsError("the columns of the runs have different lengths")
        strange = sorted(set(self.status) - set(STATUSES))
        if strange:
            raise SettingsError(f"a run cannot be '{strange[0]}'", remedy=f"known are {', '.join(STATUSES)}")
        for column in (self.points, self.rounds, *self.outcomes.values()):
            column.flags.writeable = False

    def __len__(self) -> int:
        """Return the number of runs."""
        return len(self.status)

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a run: round, status, parameters, outcomes.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        names = self.identities or tuple(str(number) for number in range(len(self)))
        columns = {"point": names, "round": self.rounds, "status": self.status}
        parameters = dict(zip(self.space.names, self.points.T, strict=True))
        return frame({**columns, **parameters, **self.outcomes})

    @property
    def done(self) -> NDArray[np.bool_]:
        """Shape ``(n,)``: the run ended well."""
        return np.array([status == "done" for status in self.status], dtype=np.bool_)

    @property
    def ended(self) -> NDArray[np.bool_]:
        """Shape ``(n,)``: the run ended, well or not."""
        return np.array([status != "waiting" for status in self.status], dtype=np.bool_)

    def outcome(self, name: str) -> NDArray[np.float64]:
        """Return one outcome of every run.

        Raises
        ------
        SettingsError
            No run has it, or none is finished; the message lists outcomes that are nearest in name, first.
        """
        if name not in self.outcomes:
            self._refuse_unfinished()
            near = get_close_matches(name, self.outcomes, n=_NAMED, cutoff=0.5)
            outer = sorted(self.outcomes, key=lambda one: one.count("/"))
            known = ", ".join(list(dict.fromkeys([*near, *outer]))[:_NAMED]) or "none"
            raise SettingsError(f"no run has the outcome '{name}'", remedy=f"there are {known}")
        return self.outcomes[name]

    def _refuse_unfinished(self) -> None:
        if self.done.any():
            return
        lost = [(self.status.count(status), status) for status in STATUSES if status in self.status]
        words = ", ".join(f"{count} {status}" for count, status in lost if status != "waiting")
        if words:
            raise SettingsError(
                f"no run is finished ({words})",
                remedy="see their run.log in the folders under 'runs', then 'correlate tune run --again'",
            )
        raise SettingsError("no run is finished", remedy="run 'correlate tune run'")

    def select(self, rows: Sequence[int] | NDArray[np.bool_] | NDArray[np.int64]) -> RunTable:
        """Return the table of some runs, in the given order.

        Parameters
        ----------
        rows
            A mask of shape ``(n,)`` or row numbers.

        Returns
        -------
        RunTable
        """
        chosen = np.arange(len(self))[np.asarray(rows)]
        return RunTable(
            space=self.space,
            points=self.points[chosen],
            status=tuple(self.status[row] for row in chosen),
            outcomes={name: values[chosen] for name, values in self.outcomes.items()},
            rounds=self.rounds[chosen],
            identities=tuple(self.identities[row] for row in chosen) if self.identities else (),
        )
