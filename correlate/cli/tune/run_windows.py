"""How far the results of a run are inside the qualification windows that the tuning file watches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.cli.coded_data import preparation
from correlate.evaluation.coded_channel import coded_model
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from correlate.campaign import Campaign, Release
    from correlate.tuning.definition import Tuning


def window_outcomes(tuning: Tuning, release: Release, campaign: Campaign) -> dict[str, float]:
    """Measure every watched quantity of a run.

    Parameters
    ----------
    tuning
        Names the windows.
    release
        The run.
    campaign
        Brings the channels of the model under their codes.

    Returns
    -------
    dict
        ``window/<load case>/<quantity>``: distance to the nearer end of the window as a share of its width,
        0 or more inside, negative outside. Left out are what cannot be measured, and the impact velocity,
        which no material card moves.

    Raises
    ------
    CorrelateError
        A windows file, device or test is not there, or the results cannot be read.
    """
    from correlate.criteria import qualify, window_book  # noqa: PLC0415 - most projects watch none

    found: dict[str, float] = {}
    for entry in tuning.windows:
        book = window_book((tuning.folder / entry.file,) if entry.file else ())
        case = campaign.load_case(entry.load_case)
        result = qualify(
            coded_model(case, campaign.read_model(release, case)),
            book.find(device=entry.device, test=entry.test),
            book,
            preparation=preparation(time_zero_ms=0.0, keep_offset=True),
            impact_velocity_m_per_s=entry.impact_velocity_m_per_s,
        )
        for verdict in result.verdicts:
            is_of_the_test = book.quantities[verdict.name].measure == "impact velocity"
            if verdict.value is not None and not is_of_the_test:
                inside = min(verdict.value - verdict.low, verdict.high - verdict.value)
                name = outcome_name("window", entry.load_case, verdict.name)
                found[name] = inside / (verdict.high - verdict.low)
    return found
