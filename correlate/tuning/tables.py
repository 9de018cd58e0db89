"""The tables of a tuning file: keys, types, defaults and rules between them."""

from __future__ import annotations

import re
from typing import Annotated, Final, Literal, Self

from pydantic import Field, model_validator

from correlate.toml import Name, Table, speak_up
from correlate.tuning.parameters import Parameter, ParameterSpace, Scale

Finite = Annotated[float, Field(allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=1)]
FileName = Annotated[str, Field(pattern=r"^[\w.+-]+$")]
Objective = Literal["weighted rating", "worst channel", "several"]

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
        ``weighted rating`` of the training load cases, their ``worst channel``, or ``several`` outcomes.
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
        Of the campaign; its channels are brought under their codes.
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
    rated: RatedTable = RatedTable()
    goal: GoalTable
    window: list[WindowTable] = Field(default_factory=list)

    def space(self) -> ParameterSpace:
        """Return the box of the parameters."""
        return ParameterSpace(tuple(one.parameter() for one in self.parameter))

    @model_validator(mode="after")
    def _parameters_are_unique(self) -> Self:
        speak_up(self.space)
        return self
