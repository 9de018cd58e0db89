"""A tuning project: the validated file, the folder it lies in, and what is kept beside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.display import brief
from correlate.errors import SettingsError
from correlate.toml import read_toml
from correlate.tuning.runs import TRAIN
from correlate.tuning.tables import TuningTable

if TYPE_CHECKING:
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.tables import GoalTable, Objective

FILE: Final = "tuning.toml"
WORST_CHANNEL: Final = "worst channel"
"""Outcome: the lowest rating of a channel of the training load cases."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TuningGoal:
    """What tuning is to raise, and what it must keep.

    Attributes
    ----------
    train, held_out
        Names of load cases.
    objective
        ``weighted rating``, ``worst channel`` or ``several``.
    outcomes
        Names of the outcomes to raise: one, or two and more for ``several``.
    largest_held_out_loss
        Most that the outcome ``load case/<name>`` of a held-out load case may fall below its value at the
        start; None for no such limit.
    windows_stay_met
        Whether outcomes ``window/…`` that are 0 or more at the start must stay so. Such an outcome is the
        distance to the nearer end of the window as a share of its width, negative outside.
    """

    train: tuple[str, ...]
    held_out: tuple[str, ...] = ()
    objective: Objective = "weighted rating"
    outcomes: tuple[str, ...] = (TRAIN,)
    largest_held_out_loss: float | None = 0.02
    windows_stay_met: bool = True

    @classmethod
    def of(cls, table: GoalTable) -> TuningGoal:
        """Return the goal that a file states."""
        single = {"weighted rating": (TRAIN,), "worst channel": (WORST_CHANNEL,)}
        return cls(
            train=tuple(table.train),
            held_out=tuple(table.held_out),
            objective=table.objective,
            outcomes=single.get(table.objective, tuple(table.outcomes)),
            # A loss of 1 is all that a rating can lose: no limit, and no surrogate that must be trusted.
            largest_held_out_loss=None if table.largest_held_out_loss == 1 else table.largest_held_out_loss,
            windows_stay_met=table.windows_stay_met,
        )


class Tuning:
    """A tuning file and the folder it lies in.

    Parameters
    ----------
    path
        Of the file.
    content
        The validated content.

    Attributes
    ----------
    path, folder
        Of the file.
    title
        Text for display.
    space
        The parameters.
    goal
        What is to be raised and kept.
    deck, run, rated, windows
        As the file states them.
    design_file
        The table of design points beside the file, ``design.csv``.
    runs_folder
        Folder of the runs beside the file, ``runs``.
    """

    def __init__(self, path: Path, content: TuningTable) -> None:
        self.path = path
        self.folder = path.parent
        self.title = content.title
        self.space: ParameterSpace = content.space()
        self.goal = TuningGoal.of(content.goal)
        self.deck = content.deck
        self.run = content.run
        self.rated = content.rated
        self.windows = tuple(content.window)
        self.design_file = self.folder / "design.csv"
        self.runs_folder = self.folder / "runs"

    def __repr__(self) -> str:
        """Say which project it is and how large."""
        return f"Tuning({brief(self.title)}, parameters=<{len(self.space.names)}>, path={brief(self.path)})"

    @property
    def campaign_file(self) -> Path:
        """The campaign that rates the runs."""
        return self.folder / self.rated.campaign

    def run_folder(self, identity: str) -> Path:
        """Return the folder of the run of a design point."""
        return self.runs_folder / identity

    def output_folder(self, identity: str) -> Path:
        """Return the folder of its results."""
        return self.run_folder(identity) / "output"


def load_tuning(path: str | Path) -> Tuning:
    """Read a tuning file.

    Parameters
    ----------
    path
        The file, or the folder that holds a ``tuning.toml``.

    Returns
    -------
    Tuning

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, each with line and key.
    SettingsError
        The template or the campaign file is not there.
    """
    path = Path(path)
    file = (path / FILE if path.is_dir() else path).resolve()
    tuning = Tuning(file, read_toml(file, TuningTable, kind="a tuning file").table)
    for word, name in (("template", tuning.deck.template), ("campaign", tuning.rated.campaign)):
        if name and not (tuning.folder / name).is_file():
            raise SettingsError(
                f"there is no {word} '{name}'",
                where=str(file),
                remedy=f"correct '{word}', which is relative to this file",
            )
    return tuning
