"""The kinds of jobs: what each is told, the role it takes to start one, and the function that does it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from correlate import (
    CorrelateError,
    RunInfo,
    check_with_register,
    fit_tuning,
    load_campaign,
    open_store,
    project_register,
    score_into,
    unrated_lines,
)
from dashboard.access import Role
from dashboard.jobs.intake import take_in_package, take_in_results
from dashboard.jobs.reports import make_report

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from dashboard.jobs.worker import Work
    from dashboard.state import Place


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


class ReportArguments(Arguments):
    """A release, and the one it is compared with; the rated one before it when empty."""

    release: str
    against: str = ""


class Result(BaseModel):
    """What comes of a job; a record that says anything else is damaged."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class ScoreResult(Result):
    """Pairs rated now, pairs whose rating was known, and how many cannot be rated for which reasons.

    Records of earlier versions give no number, and one reason a pair.
    """

    new: int
    reused: int
    unrated: list[str]
    unrated_pairs: int | None = None


class CheckResult(Result):
    """Findings of each load case, one sentence each, and how many of them are errors."""

    findings: dict[str, list[str]]
    errors: int


class IngestResult(Result):
    """Where the package is, what was found, who signed it (fingerprint), and why that is not accepted."""

    folder: str
    quarantine: bool
    findings: list[str]
    errors: int
    signed_by: str
    distrust: str = ""


class ResultsResult(Result):
    """Release that was made, how many files it has, the load cases with a result and those without."""

    release: str
    files: int
    read: list[str]
    missing: list[str]


class FitResult(Result):
    """Outcomes that were fitted, runs that are proposed, and why none is."""

    outcomes: int
    proposed: int
    refusal: str


class ReportResult(Result):
    """Whose report it is, the kinds of files that were written, and why one was not."""

    release: str
    files: list[str]
    problem: str


def rate_campaign(work: Work) -> Mapping[str, Any]:
    """Rate what is not rated yet, and keep each block as soon as it is there."""
    campaign = load_campaign(work.place.project)
    with open_store(work.place.store or campaign.folder / "ratings.sqlite") as store:
        run = RunInfo.now(who=work.who, campaign_sha256=campaign.sha256)
        work.progress(0, "rating")
        scores = score_into(
            store,
            campaign,
            work.arguments["releases"],
            run=run,
            progress=work.blocks("rating"),
            workers=work.place.processes,
        ).scores
    return {
        "new": scores.new,
        "reused": scores.reused,
        "unrated": unrated_lines(scores.unrated),
        "unrated_pairs": len(scores.unrated),
    }


def check_tests(work: Work) -> Mapping[str, Any]:
    """Examine the tests of some load cases, one load case after the other."""
    campaign = load_campaign(work.place.project)
    names = work.arguments["load_cases"] or [one.name for one in campaign.load_cases]
    load_cases = [campaign.load_case(name) for name in names]
    findings: dict[str, list[str]] = {}
    errors = 0
    for done, load_case in enumerate(load_cases):
        work.progress(done / len(load_cases), f"examining {load_case.title or load_case.name}")
        tests = [campaign.read_test(path, load_case) for path in campaign.test_paths(load_case)]
        outcome = check_with_register(tests, project_register(campaign.folder))
        findings[load_case.name] = [f"{one.place}: {one.what}" for one in outcome.findings]
        errors += outcome.count("error")
    return {"findings": findings, "errors": errors}


def fit_surrogates(work: Work) -> Mapping[str, Any]:
    """Fit surrogates, rank the parameters, propose the next runs; a fit that fails leaves the last one."""
    fit = fit_tuning(work.place.project, runs=work.arguments["runs"], progress=work.progress)
    return {"outcomes": len(fit.surrogates), "proposed": len(fit.proposals), "refusal": fit.refusal}


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
    result
        What comes of it.
    writes
        Where it writes; None where it only looks.
    do
        Does it and returns its result; raises CorrelateError where that is not possible.
    """

    words: str
    least: Role
    arguments: type[Arguments]
    result: type[Result]
    writes: Place | None
    do: Callable[[Work], Mapping[str, Any]]


KINDS: Final[dict[str, Kind]] = {
    "score": Kind(
        words="Rate the campaign",
        least=Role.ANALYST,
        arguments=ScoreArguments,
        result=ScoreResult,
        writes="store",
        do=rate_campaign,
    ),
    "check": Kind(
        words="Check the tests",
        least=Role.ANALYST,
        arguments=CheckArguments,
        result=CheckResult,
        writes=None,
        do=check_tests,
    ),
    "ingest": Kind(
        words="Import a package",
        least=Role.LAB,
        arguments=IngestArguments,
        result=IngestResult,
        writes="folder",
        do=take_in_package,
    ),
    "results": Kind(
        words="Import results",
        least=Role.ANALYST,
        arguments=ResultsArguments,
        result=ResultsResult,
        writes="folder",
        do=take_in_results,
    ),
    "fit": Kind(
        words="Fit surrogates",
        least=Role.ANALYST,
        arguments=FitArguments,
        result=FitResult,
        writes="folder",
        do=fit_surrogates,
    ),
    "report": Kind(
        words="Create the report of a release",
        least=Role.MANAGER,
        arguments=ReportArguments,
        result=ReportResult,
        writes=None,
        do=make_report,
    ),
}
"""By name."""


def kind_of(name: str) -> Kind:
    """Return a kind of job."""
    if name not in KINDS:
        raise CorrelateError(f"there is no job '{name}'", remedy=f"known are {', '.join(KINDS)}")
    return KINDS[name]


def checked_arguments(name: str, arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of a job, complete."""
    try:
        return kind_of(name).arguments.model_validate(dict(arguments)).model_dump()
    except ValidationError as error:
        wrong = ", ".join(".".join(map(str, item["loc"])) or "all of it" for item in error.errors())
        raise CorrelateError(
            f"the job '{name}' does not accept these arguments: {wrong}", remedy="reload the page and retry"
        ) from error
