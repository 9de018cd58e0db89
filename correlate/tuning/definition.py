"""The tuning file."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, Literal, Self

from pydantic import Field, model_validator

from correlate.display import brief
from correlate.errors import SettingsError
from correlate.parallel import BatchJob, BatchSystem
from correlate.toml import Name, Table, read_toml, speak_up
from correlate.tuning.parameters import Parameter, ParameterSpace, Scale
from correlate.tuning.runs import TRAIN

Finite = Annotated[float, Field(allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=1)]
Word = Annotated[str, Field(pattern=r"^[\w.@:+-]*$")]
Line = Annotated[str, Field(pattern=r"^[^\r\n]+$")]
FileName = Annotated[str, Field(pattern=r"^[\w.+-]+$")]
Objective = Literal["weighted rating", "worst channel", "loss ratio", "several"]

PLACES: Final[tuple[str, ...]] = ("python", "deck", "output", "run", "project", "point")
"""Words in braces that a command may hold."""


class ParameterTable(Table):
    """One number of the material card; see :class:`Parameter`."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z_]\w*$")]
    unit: str = "1"
    lower: Finite
    upper: Finite
    scale: Scale = "linear"
    start: Finite

    def parameter(self) -> Parameter:
        """Return the parameter."""
        return Parameter(**dict(self))

    @model_validator(mode="after")
    def _range_holds(self) -> Self:
        speak_up(self.parameter)
        return self


class DeckTable(Table):
    """How the deck of a design point is written.

    Attributes
    ----------
    way
        ``template``: a text with named fields such as ``{{ rib_stiffness }}``; ``table of values``: a CSV
        file with a line a parameter.
    template
        The text, relative to the tuning file; for ``template`` alone.
    file
        Name of the deck in the folder of the run.
    """

    way: Literal["template", "table of values"] = "template"
    template: str = ""
    file: FileName

    @model_validator(mode="after")
    def _template_belongs(self) -> Self:
        if (self.way == "template") != bool(self.template):
            raise ValueError("'template' names a file when the way is 'template', and only then")
        if self.file in {"output", "record.json", "run.log", "lock"}:
            raise ValueError(f"'{self.file}' is reserved in the folder of a run; rename it")
        return self


class CommandTable(Table):
    """The command that runs one design point.

    Attributes
    ----------
    command
        Program and arguments, no shell. ``{deck}`` and ``{output}`` stand for the deck and the folder of the
        results, ``{run}`` for the folder of the run, ``{project}`` for that of the tuning file, ``{point}``
        for the name of the design point, ``{python}`` for the Python that runs this program.
    folder
        Working folder, relative to the tuning file; empty for the folder of the run.
    timeout_s
        After which the run is stopped.
    retries
        Further attempts after a failed one; a run that timed out is not tried again.
    environment
        Variables set beside those there are.
    at_once
        Runs at a time, where the command line does not say.
    log_lines
        Last lines of the log that are kept in the record.
    """

    command: Annotated[list[Text], Field(min_length=1)]
    folder: str = ""
    timeout_s: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    retries: Annotated[int, Field(ge=0, le=10)] = 0
    environment: dict[str, str] = Field(default_factory=dict)
    at_once: Annotated[int, Field(ge=1)] = 1
    log_lines: Annotated[int, Field(ge=1, le=1000)] = 20

    @model_validator(mode="after")
    def _places_are_known(self) -> Self:
        for word in re.findall(r"\{([^{}]*)\}", " ".join(self.command)):
            if word not in PLACES:
                known = ", ".join(f"{{{place}}}" for place in PLACES)
                raise ValueError(f"nothing stands for '{{{word}}}' in the command; known are {known}")
        return self


class ClusterTable(Table):
    """How runs become jobs of a batch system; one run is one job.

    Attributes
    ----------
    kind
        ``slurm``, ``pbs`` or ``lsf``.
    queue
        Also called partition; empty for that of the batch system.
    account
        Account or project that the jobs are charged to; empty for that of the batch system.
    cores, memory_gib
        Cores and memory in GiB of one run.
    wall_time_h
        Time after which the batch system ends a job. All attempts of a run must fit into it.
    at_once
        Jobs at a time, including waiting ones, unless the command line sets it.
    directives
        Further directives for the job script, such as ``--constraint=fast``.
    network_interface
        Such as ``ib0``; empty for that of the name of this machine.
    """

    kind: BatchSystem
    queue: Word = ""
    account: Word = ""
    cores: Annotated[int, Field(ge=1)] = 1
    memory_gib: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    wall_time_h: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    at_once: Annotated[int, Field(ge=1)] = 1
    directives: list[Line] = Field(default_factory=list)
    network_interface: Word = ""


class RatedTable(Table):
    """What is rated.

    Attributes
    ----------
    campaign
        The campaign file, relative to the tuning file.
    layout
        Name of a layout of the campaign that describes the results.
    absurd_ratio
        A model channel whose peak is this many times the largest of the test, or more, makes the run
        unstable.
    """

    campaign: str = "campaign.toml"
    layout: str | None = None
    absurd_ratio: Annotated[float, Field(gt=1, allow_inf_nan=False)] = 100.0


class GoalTable(Table):
    """What tuning is to raise, and what it must keep.

    Attributes
    ----------
    objective
        ``weighted rating`` of the training load cases, their ``worst channel``, their ``loss ratio``
        relative to the repeatability of the tests, or ``several`` outcomes.
    outcomes
        Names of outcomes; for ``several`` alone.
    train, held_out
        Load cases of the campaign; none may stand in both.
    largest_held_out_loss
        Most that a held-out load case may lose against the start; 1 for no limit.
    windows_stay_met
        Whether a qualification window that the start meets must stay met.
    """

    objective: Objective = "weighted rating"
    outcomes: list[Text] = Field(default_factory=list)
    train: Annotated[list[Name], Field(min_length=1)]
    held_out: list[Name] = Field(default_factory=list)
    largest_held_out_loss: Annotated[float, Field(ge=0, le=1)] | None = 0.02
    windows_stay_met: bool = True

    @model_validator(mode="after")
    def _load_cases_are_apart(self) -> Self:
        both = sorted(set(self.train) & set(self.held_out))
        if both:
            raise ValueError(f"load case '{both[0]}' is both a training and a held-out load case; choose one")
        return self

    @model_validator(mode="after")
    def _outcomes_belong(self) -> Self:
        if (self.objective == "several") != (len(self.outcomes) > 1):
            raise ValueError("'outcomes' names two or more when the objective is 'several', and only then")
        return self


class WindowTable(Table):
    """A qualification test whose windows are watched.

    Attributes
    ----------
    load_case
        Load case of the campaign; its channels are identified by their codes.
    device, test
        Name, or a part of it, as for ``correlate qualify``.
    file
        A windows file of your own, relative to the tuning file.
    impact_velocity_m_per_s
        Where the results do not say.
    """

    load_case: Name
    device: Text
    test: Text
    file: str | None = None
    impact_velocity_m_per_s: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None


class CriterionTable(Table):
    """Injury criteria that are computed for every run.

    Attributes
    ----------
    load_case
        Load case of the campaign; its channels are identified by their codes.
    device
        Name of the device size, or a part of it, as for ``correlate criteria``.
    """

    load_case: Name
    device: Text


class TuningTable(Table):
    """The whole file.

    Attributes
    ----------
    title
        Text for display.
    """

    title: str = ""
    parameter: Annotated[list[ParameterTable], Field(min_length=1)]
    deck: DeckTable
    run: CommandTable
    cluster: ClusterTable | None = None
    rated: RatedTable = RatedTable()
    goal: GoalTable
    window: list[WindowTable] = Field(default_factory=list)
    criterion: list[CriterionTable] = Field(default_factory=list)

    def space(self) -> ParameterSpace:
        """Return the box of the parameters."""
        return ParameterSpace(tuple(one.parameter() for one in self.parameter))

    @model_validator(mode="after")
    def _attempts_fit_into_a_job(self) -> Self:
        if self.cluster is not None:
            longest_s, wall_time_s = (
                self.run.timeout_s * (1 + self.run.retries),
                self.cluster.wall_time_h * 3600,
            )
            if longest_s >= wall_time_s:
                raise ValueError(
                    f"a run may take {longest_s:g} s ('timeout_s' for each attempt), and its job ends after "
                    f"{wall_time_s:g} s; shorten 'timeout_s' or lengthen 'wall_time_h'"
                )
        return self

    @model_validator(mode="after")
    def _parameters_are_unique(self) -> Self:
        speak_up(self.space)
        return self


FILE: Final = "tuning.toml"
WORST_CHANNEL: Final = "worst channel"
"""Outcome: the lowest rating of a channel of the training load cases."""
LOSS_RATIO: Final = "minus loss ratio"
"""Outcome: the loss ratio of the channels of the training load cases, by their shares, negative so that more
is better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TuningGoal:
    """What tuning is to raise, and what it must keep.

    Attributes
    ----------
    train, held_out
        Names of load cases.
    objective
        ``weighted rating``, ``worst channel``, ``loss ratio`` or ``several``.
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
        single = {"weighted rating": (TRAIN,), "worst channel": (WORST_CHANNEL,), "loss ratio": (LOSS_RATIO,)}
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
    deck, run, cluster, rated, windows
        As the file states them; no cluster is None.
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
        self.cluster = content.cluster
        self.rated = content.rated
        self.windows = tuple(content.window)
        self.criteria = tuple(content.criterion)
        self.design_file = self.folder / "design.csv"
        self.runs_folder = self.folder / "runs"

    def __repr__(self) -> str:
        """Say which project it is and how large."""
        return f"Tuning({brief(self.title)}, parameters=<{len(self.space.names)}>, path={brief(self.path)})"

    def batch_job(self, at_once: int | None = None) -> BatchJob:
        """Return what the job of a run asks for.

        Parameters
        ----------
        at_once
            Jobs at a time; as in the file when None.

        Raises
        ------
        SettingsError
            The file does not say how runs become jobs.
        """
        if self.cluster is None:
            raise SettingsError(
                "the engine 'cluster' needs a table [cluster]",
                where=str(self.path),
                remedy="write it with kind, memory_gib and wall_time_h, or use another engine",
            )
        return BatchJob(
            kind=self.cluster.kind,
            queue=self.cluster.queue,
            account=self.cluster.account,
            cores=self.cluster.cores,
            memory_gib=self.cluster.memory_gib,
            wall_time_s=self.cluster.wall_time_h * 3600,
            at_once=at_once or self.cluster.at_once,
            network_interface=self.cluster.network_interface,
            directives=tuple(self.cluster.directives),
            folder=self.folder / "cluster",
        )

    @property
    def measured_cases(self) -> tuple[str, ...]:
        """Load cases in which windows or criteria are measured."""
        windows = [one.load_case for one in self.windows]
        return tuple(dict.fromkeys([*windows, *(one.load_case for one in self.criteria)]))

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
    # Not resolve(), which fails at a link to itself.
    file = Path(os.path.realpath(path / FILE if path.is_dir() else path))
    tuning = Tuning(file, read_toml(file, TuningTable, kind="a tuning file").table)
    for word, name in (("template", tuning.deck.template), ("campaign", tuning.rated.campaign)):
        if name and not (tuning.folder / name).is_file():
            raise SettingsError(
                f"there is no {word} '{name}'",
                where=str(file),
                remedy=f"correct '{word}', which is relative to this file",
            )
    return tuning
