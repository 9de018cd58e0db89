"""The scoreboard of a store: numbers, decision, sign-offs and remarks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.campaign import ceiling_scores, decide, release_matrix, release_scores, scoreboard
from correlate.display import short_repr
from correlate.store.scored import stored_ratings
from correlate.store.signing import sign_offs_today

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from correlate.campaign import Campaign, Decision, ReleaseMatrix, ReleaseScore, Scoreboard
    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.store.remarks import Note
    from correlate.store.rows import RunInfo
    from correlate.store.signing import SignOffToday
    from correlate.store.store import Store


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredNumbers:
    """The numbers of all rated releases of a campaign.

    Attributes
    ----------
    scores
        Of each release by name, in the order of the campaign file.
    evidence
        What each stands on.
    ceilings
        Of the hardware; None where none is known.
    """

    scores: Mapping[str, ReleaseScore]
    evidence: Mapping[str, ReleaseEvidence]
    ceilings: ReleaseScore | None

    @property
    def newest(self) -> str:
        """Name of the last rated release; empty where none is."""
        return next(reversed(list(self.scores)), "")

    def board(self, campaign: Campaign, *, release: str = "", against: str = "") -> Scoreboard:
        """Put one release beside another; see :func:`correlate.campaign.scoreboard.scoreboard`."""
        return scoreboard(
            campaign,
            self.scores,
            release=release,
            against=against,
            ceilings=self.ceilings,
            evidence=self.evidence,
        )

    def matrix(
        self,
        campaign: Campaign,
        *,
        releases: Sequence[str] = (),
        against: str = "",
        places: Collection[tuple[str, str]] | None = None,
    ) -> ReleaseMatrix:
        """Return the cells of some releases; see :func:`correlate.campaign.matrix.release_matrix`."""
        return release_matrix(
            campaign,
            self.scores,
            evidence=self.evidence,
            ceilings=self.ceilings,
            releases=releases,
            against=against,
            places=places,
        )


def stored_numbers(store: Store, campaign: Campaign) -> StoredNumbers:
    """Combine what a store holds of every rated release; nothing is rated.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.

    Returns
    -------
    StoredNumbers

    Raises
    ------
    CorrelateError
        The waivers hold mistakes, or the store refuses.
    """
    held = stored_ratings(store, campaign)
    return StoredNumbers(
        scores=release_scores(campaign, held.pairs),
        evidence=held.evidence,
        ceilings=ceiling_scores(campaign, store.ceilings(campaign.title)),
    )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StoredBoard:
    """The scoreboard of a release, and where its numbers come from.

    Attributes
    ----------
    board
        One release against another.
    decision
        What follows from it.
    releases
        Names of the rated ones, in the order of the campaign file.
    run
        The last one over the campaign; None where there is none.
    sign_offs
        Of the release, oldest first.
    notes
        On the release and on the campaign as a whole, oldest first.
    """

    board: Scoreboard
    decision: Decision
    releases: tuple[str, ...]
    run: RunInfo | None
    sign_offs: tuple[SignOffToday, ...]
    notes: tuple[Note, ...]


def stored_board(store: Store, campaign: Campaign, *, release: str = "", against: str = "") -> StoredBoard:
    """Put a release beside another, from what a store holds; nothing is rated.

    Parameters
    ----------
    store
        Open.
    campaign
        The campaign.
    release, against
        Names, as for :func:`correlate.campaign.scoreboard.scoreboard`.

    Returns
    -------
    StoredBoard

    Raises
    ------
    SettingsError
        A release is not rated.
    CorrelateError
        The waivers hold mistakes, or the store refuses.
    """
    numbers = stored_numbers(store, campaign)
    board = numbers.board(campaign, release=release, against=against)
    runs = store.runs(campaign.title)
    name = board.release
    return StoredBoard(
        board=board,
        decision=decide(campaign, board),
        releases=tuple(numbers.scores),
        run=runs[-1] if runs else None,
        sign_offs=tuple(sign_offs_today(store, campaign, name, numbers.evidence[name])),
        notes=tuple(one for one in store.notes(campaign=campaign.title) if one.release in {"", name}),
    )
