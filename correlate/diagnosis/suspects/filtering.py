"""A filter class that the two sides do not share."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from correlate.conditioning import condition
from correlate.diagnosis.suspects.case import paired, rated
from correlate.diagnosis.suspects.spectrum import Band, band_of
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case
    from correlate.diagnosis.suspects.suspect import Kind

Side = Literal["reference", "candidate"]
WORDS: Final[dict[Side, str]] = {"reference": "test", "candidate": "model"}
WEIGHT: Final = 0.3
"""Weight: it rarely costs much, so whatever wins a lot comes first."""


def wrong_filter(case: Case) -> Iterator[Suspect]:
    """Compare the classes that both sides have been through before with that of the recipe.

    Parameters
    ----------
    case
        The pair.

    Yields
    ------
    Suspect
        ``filtered twice``, ``other filter class`` or ``not filtered``.

    References
    ----------
    .. [1] Criterion derived here.
    """
    bands: dict[Side, Band] = {"reference": band_of(case.reference), "candidate": band_of(case.candidate)}
    one, other = bands["reference"].cfc, bands["candidate"].cfc
    if one == other:
        return
    if case.recipe.cfc is None:
        yield from _without_class(case, bands)
        return
    side: Side = "reference" if other is None or (one is not None and one < other) else "candidate"
    before = bands[side].cfc
    if before is None or before > case.recipe.cfc:
        return
    kind: Kind = "filtered twice" if before == case.recipe.cfc else "other filter class"
    classes: dict[Side, int | None] = {"reference": before, "candidate": before, side: None}
    yield from _suspect(case, kind, side, bands[side], classes)


def _without_class(case: Case, bands: dict[Side, Band]) -> Iterator[Suspect]:
    found = {side: band for side, band in bands.items() if band.cfc is not None}
    lower = min(found, key=lambda side: found[side].cfc or 0)
    before = found[lower].cfc or 0
    higher: Side = "candidate" if lower == "reference" else "reference"
    if len(found) == 1 and not bands[higher].noisy:
        return
    kind: Kind = "not filtered" if len(found) == 1 else "other filter class"
    classes: dict[Side, int | None] = {lower: None, higher: before}
    yield from _suspect(case, kind, lower, found[lower], classes)


def _suspect(
    case: Case, kind: Kind, side: Side, band: Band, classes: dict[Side, int | None]
) -> Iterator[Suspect]:
    before, after = band.cfc, _after(case, classes)
    if after is None:
        return
    how = "its history says" if band.source == "history" else "the spectrum of its noise shows the knee"
    recipe = (
        "the recipe has no class"
        if case.recipe.cfc is None
        else f"the recipe filters with CFC {case.recipe.cfc}"
    )
    other = WORDS["candidate" if side == "reference" else "reference"]
    yield Suspect(
        kind=kind,
        channel=case.reference.channel,
        evidence=f"the {WORDS[side]} has been through CFC {before} already ({how}), the {other} has not, "
        f"and {recipe}",
        fix=f"give the {WORDS[side]} unfiltered, or filter the {other} alone with CFC {before} and "
        "leave cfc out",
        rating_before=case.rating,
        rating_after=after,
        change={"reference_cfc": classes["reference"], "candidate_cfc": classes["candidate"], **case.extra},
        weight=WEIGHT,
    )


def _after(case: Case, classes: dict[Side, int | None]) -> float | None:
    unit = case.recipe.unit or case.reference.unit
    try:
        reference = condition(
            case.reference, replace(case.recipe.for_reference(unit), cfc=classes["reference"])
        )
        candidate = condition(
            case.candidate, replace(case.recipe.for_candidate(unit), cfc=classes["candidate"])
        )
    except CorrelateError:
        return None
    return rated(paired(reference, candidate, case.recipe), case.settings)
