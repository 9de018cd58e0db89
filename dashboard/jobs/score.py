"""The job that rates a campaign."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate import RunInfo, load_campaign, open_store, score_into

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.work import Work


def do(work: Work) -> Mapping[str, Any]:
    """Rate unrated pairs yet, and keep each block as soon as it is there.

    Parameters
    ----------
    work
        The job, told the ``releases``.

    Returns
    -------
    Mapping
        How many pairs are rated ``new``, how many were known (``reused``), and the sentences of those that
        cannot be rated (``unrated``).

    Raises
    ------
    CorrelateError
        The campaign or the store cannot be used.
    """
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
    unrated = [one.reason for one in scores.unrated]
    return {"new": scores.new, "reused": scores.reused, "unrated": unrated}
