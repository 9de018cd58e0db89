"""The job that checks the tests of a campaign."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate import check, load_campaign, read

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.work import Work


def do(work: Work) -> Mapping[str, Any]:
    """Examine the tests of some load cases, one load case after the other.

    Parameters
    ----------
    work
        The job, told the ``load_cases``.

    Returns
    -------
    Mapping
        ``findings`` by load case: one sentence each; and ``errors``, how many of them are errors.

    Raises
    ------
    CorrelateError
        The campaign or a test cannot be read.
    """
    campaign = load_campaign(work.place.project)
    names = work.arguments["load_cases"] or [one.name for one in campaign.load_cases]
    load_cases = [campaign.load_case(name) for name in names]
    findings: dict[str, list[str]] = {}
    errors = 0
    for done, load_case in enumerate(load_cases):
        work.progress(done / len(load_cases), f"examining {load_case.title or load_case.name}")
        outcome = check([read(path) for path in campaign.test_paths(load_case)])
        findings[load_case.name] = [f"{one.place}: {one.what}" for one in outcome.findings]
        errors += outcome.count("error")
    return {"findings": findings, "errors": errors}
