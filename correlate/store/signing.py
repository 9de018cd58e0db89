"""Signing a release: what exactly is signed, and whether that is still current."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.errors import CorrelateError, SettingsError, StoreError
from correlate.evaluation.evidence import release_state

if TYPE_CHECKING:
    from datetime import date

    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.evaluation.definition import Campaign
    from correlate.store.remarks import SignOff
    from correlate.store.store import Store


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class SignOffToday:
    """A sign-off, and what has changed since.

    Attributes
    ----------
    sign_off
        As it was written.
    changes
        One sentence each, without a full stop; empty while it refers to what there is.
    """

    sign_off: SignOff
    changes: tuple[str, ...]

    @property
    def is_current(self) -> bool:
        """Whether it refers to the present ratings, files and settings."""
        return not self.changes


def sign_release(
    store: Store,
    campaign: Campaign,
    release: str,
    *,
    role: str,
    who: str,
    date: date,
    text: str = "",
    scope: str = "",
) -> SignOff:
    """Write that somebody is responsible for a release as it is now: its ratings, files and settings.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release
        Name.
    role
        In which the signer answers, for instance lab, analyst or manager.
    who
        The signer.
    date
        Of the decision.
    text
        Remark of the signer.
    scope
        What the release may be used for, and what not; empty for everything the campaign covers.

    Returns
    -------
    SignOff

    Raises
    ------
    SettingsError
        The release is unknown, or the date lies in the future.
    FormatError
        A load case names tests that are not there: what is signed cannot be determined.
    StoreError
        The release has no ratings; role or signer is empty; the store can only be read.
    """
    name = campaign.release(release).name
    if store.is_read_only:
        raise StoreError(
            "a sign-off cannot be saved here, because there is no permission to write",
            where=store.place,
            remedy="work in a copy of the project",
        )
    if date > datetime.now(UTC).astimezone().date():
        raise SettingsError(
            f"the date {date.isoformat()} of the sign-off lies in the future",
            remedy="give the day of the decision",
        )
    return store.sign_off(
        campaign=campaign.title,
        release=name,
        role=role.strip(),
        who=who.strip(),
        date=date,
        text=text.strip(),
        scope=scope.strip(),
        inputs_sha256=release_state(campaign, campaign.release(name)),
    )


def sign_offs_today(
    store: Store, campaign: Campaign, release: str, evidence: ReleaseEvidence
) -> list[SignOffToday]:
    """Return the sign-offs of a release, oldest first, each with what has changed since.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release
        Name of a rated release.
    evidence
        Of the release.

    Returns
    -------
    list of SignOffToday

    Raises
    ------
    StoreError
        The database refuses.
    """
    signed = store.sign_offs(campaign=campaign.title, release=release)
    ratings = store.ratings_sha256(campaign=campaign.title, release=release) if signed else ""
    return compared_sign_offs(signed, campaign, ratings_sha256=ratings, evidence=evidence)


def compared_sign_offs(
    signed: list[SignOff], campaign: Campaign, *, ratings_sha256: str, evidence: ReleaseEvidence
) -> list[SignOffToday]:
    """Compare sign-offs of one release with its present ratings, files and settings."""
    if not signed:
        return []
    inputs = _state_or_reason(campaign, evidence.release)
    is_stale = bool(evidence.of("stale"))
    return [
        SignOffToday(sign_off=one, changes=_changes(one, ratings_sha256, inputs, is_stale=is_stale))
        for one in signed
    ]


def _changes(signed: SignOff, ratings_sha256: str, inputs: str, *, is_stale: bool) -> tuple[str, ...]:
    found = []
    if signed.ratings_sha256 != ratings_sha256:
        found.append("the release has been rated again since")
    # Sign-offs of earlier versions know nothing of the inputs; what is stale is known of them too.
    if signed.inputs_sha256 and signed.inputs_sha256 != inputs:
        found.append("tests, model results or settings have changed since")
    elif is_stale:
        found.append("the ratings do not match the present files and settings")
    return tuple(found)


def _state_or_reason(campaign: Campaign, release: str) -> str:
    """Return the state of the inputs; what cannot be determined is not what was signed."""
    try:
        return release_state(campaign, campaign.release(release))
    except CorrelateError as error:
        return str(error)
