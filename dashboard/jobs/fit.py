"""The job that fits surrogates to the runs of the tuning project."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate import fit_tuning

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.work import Work


def do(work: Work) -> Mapping[str, Any]:
    """Fit surrogates, ask them what moves the ratings, propose the next runs, and keep all of it.

    Parameters
    ----------
    work
        The job, told how many ``runs`` to propose.

    Returns
    -------
    Mapping
        How many ``outcomes`` were fitted and runs ``proposed``, and why none was (``refusal``).

    Raises
    ------
    CorrelateError
        There is no tuning project, or too few of its runs are finished. The fit kept before stays.
    """
    fit = fit_tuning(work.place.project, runs=work.arguments["runs"], progress=work.progress)
    return {"outcomes": len(fit.surrogates), "proposed": len(fit.proposals), "refusal": fit.refusal}
