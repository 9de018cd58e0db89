"""Which jobs can be started, and the minimum role of each."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from correlate import CorrelateError
from dashboard.access import Role

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.work import Work


class Arguments(BaseModel):
    """What a job is told; anything else is refused before it is started."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class ScoreArguments(Arguments):
    """Releases to rate by name; all when empty."""

    releases: list[str] = []


class CheckArguments(Arguments):
    """Load cases whose tests are examined, by name; all when empty."""

    load_cases: list[str] = []


class IngestArguments(Arguments):
    """A package that lies in the folder of uploads: name of the upload, and of the file in it."""

    upload: str
    file: str


class ResultsArguments(Arguments):
    """Results of a release in the folder of uploads: upload, file, and what the release is called."""

    upload: str
    file: str
    name: str
    note: str = ""


class FitArguments(Arguments):
    """How many runs are proposed after the fit."""

    runs: Annotated[int, Field(ge=1, le=64)] = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of job.

    Attributes
    ----------
    words
        What it does.
    least
        Role it takes to start it.
    arguments
        What it is told.
    module
        Whose function ``do`` does it; imported by the worker alone.
    """

    words: str
    least: Role
    arguments: type[Arguments]
    module: str

    def do(self, work: Work) -> Mapping[str, Any]:
        """Do the job.

        Parameters
        ----------
        work
            The job.

        Returns
        -------
        Mapping
            What came of it, as JSON can hold it.

        Raises
        ------
        CorrelateError
            It cannot be done.
        """
        result: Mapping[str, Any] = import_module(self.module).do(work)
        return result


KINDS: Final[dict[str, Kind]] = {
    "score": Kind(
        words="Rate the campaign", least=Role.ANALYST, arguments=ScoreArguments, module="dashboard.jobs.score"
    ),
    "check": Kind(
        words="Check the tests", least=Role.ANALYST, arguments=CheckArguments, module="dashboard.jobs.check"
    ),
    "ingest": Kind(
        words="Import a package", least=Role.LAB, arguments=IngestArguments, module="dashboard.jobs.ingest"
    ),
    "results": Kind(
        words="Import results",
        least=Role.ANALYST,
        arguments=ResultsArguments,
        module="dashboard.jobs.results",
    ),
    "fit": Kind(
        words="Fit surrogates", least=Role.ANALYST, arguments=FitArguments, module="dashboard.jobs.fit"
    ),
}
"""By name."""


def kind_of(name: str) -> Kind:
    """Return a kind of job.

    Parameters
    ----------
    name
        Of the kind.

    Returns
    -------
    Kind

    Raises
    ------
    CorrelateError
        There is none.
    """
    if name not in KINDS:
        raise CorrelateError(f"there is no job '{name}'", remedy=f"known are {', '.join(KINDS)}")
    return KINDS[name]


def checked_arguments(name: str, arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of a job, complete.

    Parameters
    ----------
    name
        Of the kind.
    arguments
        As given.

    Returns
    -------
    dict

    Raises
    ------
    CorrelateError
        They are not what the kind takes.
    """
    try:
        return kind_of(name).arguments.model_validate(dict(arguments)).model_dump()
    except ValidationError as error:
        wrong = ", ".join(".".join(map(str, item["loc"])) or "all of it" for item in error.errors())
        raise CorrelateError(
            f"the job '{name}' does not accept these arguments: {wrong}", remedy="reload the page and retry"
        ) from error
