"""The state of the server: one project, its campaign and a cache of recordings."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Final, Literal

from flask import current_app, has_request_context

from correlate import (
    CampaignReader,
    CaseEvaluation,
    CorrelateError,
    StoredRatings,
    ceiling_scores,
    load_campaign,
    may_write,
    open_store,
    release_matrix,
    release_scores,
    scoreboard,
    store_is_read_only,
    stored_ratings,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from dash import Dash

    from correlate import (
        Campaign,
        LoadCase,
        Recording,
        ReleaseEvidence,
        ReleaseMatrix,
        ReleaseScore,
        RunInfo,
        Scoreboard,
    )
    from dashboard.selection import Selection

_PROJECT: Final = "correlate-project"

Place = Literal["folder", "store"]
"""Where something would be written: the project folder, or the results store."""

Stamp = tuple[tuple[str, int, int], ...]
"""What changes when a file, or any file of a folder, does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRatings:
    """What the results store holds of a campaign.

    Attributes
    ----------
    scores
        Numbers of every rated release, by name, in the order of the campaign file.
    evidence
        What each stands on.
    ceilings
        Of the hardware; None where none is known.
    run
        The last one over the campaign; None where there is none.
    """

    scores: dict[str, ReleaseScore]
    evidence: Mapping[str, ReleaseEvidence]
    ceilings: ReleaseScore | None
    run: RunInfo | None

    @property
    def newest(self) -> str:
        """Name of the last rated release; empty where none is."""
        return next(reversed(self.scores), "")

    def matrix(self, campaign: Campaign, *, releases: Sequence[str] = (), against: str = "") -> ReleaseMatrix:
        """Return the cells of some releases, of all that are rated when none is named."""
        return release_matrix(
            campaign,
            self.scores,
            evidence=self.evidence,
            ceilings=self.ceilings,
            releases=releases,
            against=against,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBoard:
    """The scoreboard, and where its numbers come from.

    Attributes
    ----------
    board
        One release against another.
    releases
        Names of the rated ones, in the order of the campaign file.
    run
        The last one over the campaign; None where there is none.
    """

    board: Scoreboard
    releases: tuple[str, ...]
    run: RunInfo | None


@dataclass(slots=True)
class Project:
    """A project folder, read when first asked for and again when its files change.

    Attributes
    ----------
    folder
        Holds ``campaign.toml``.
    store
        File or address of the results store; the file beside the campaign when empty.
    """

    folder: Path
    store: str = ""
    _lock: Lock = field(default_factory=Lock, repr=False)
    _reader: CampaignReader = field(default_factory=CampaignReader, repr=False)
    _stamps: dict[Path, Stamp] = field(default_factory=dict, repr=False)

    @property
    def campaign_file(self) -> Path:
        """Where the campaign is expected."""
        return self.folder / "campaign.toml"

    def campaign(self) -> Campaign:
        """Return the campaign as its file is now."""
        return load_campaign(self.campaign_file)

    def evaluation(self, campaign: Campaign, selection: Selection) -> CaseEvaluation:
        """Return the evaluation of a load case; recordings are read once, until their files change."""
        pair = selection.pair
        with self._lock:
            for path in (*pair.test_paths, pair.model_path):
                self._forget_if_changed(path)
            return CaseEvaluation(campaign, pair.load_case, reader=self._reader, change=selection.change)

    def ratings(self, campaign: Campaign) -> KeptRatings:
        """Read ratings, evidence and ceilings from the results store."""
        file = self.folder / "ratings.sqlite"
        if not self.store and not file.exists():
            # Opening would make a new one, which looking at a page must not do.
            held, ceilings, runs = StoredRatings(pairs=(), evidence={}), [], []
        else:
            with open_store(self.store or file) as store:
                held = stored_ratings(store, campaign)
                ceilings = store.ceilings(campaign.title)
                runs = store.runs(campaign.title)
        return KeptRatings(
            scores=release_scores(campaign, held.pairs),
            evidence=held.evidence,
            ceilings=ceiling_scores(campaign, ceilings),
            run=runs[-1] if runs else None,
        )

    def board(self, campaign: Campaign, *, release: str = "", against: str = "") -> KeptBoard:
        """Read the scoreboard of a release from the results store."""
        kept = self.ratings(campaign)
        board = scoreboard(
            campaign,
            kept.scores,
            release=release,
            against=against,
            ceilings=kept.ceilings,
            evidence=kept.evidence,
        )
        return KeptBoard(board=board, releases=tuple(kept.scores), run=kept.run)

    def closed(self, place: Place) -> str:
        """Return why nothing can be written at a place, as part of a sentence; empty where it can."""
        if place == "folder":
            return "" if may_write(self.folder) else "there is no permission to write in the project folder"
        try:
            closed = store_is_read_only(self.store or self.folder / "ratings.sqlite")
        except CorrelateError:
            # Whoever reads or saves ratings says what is wrong with the store.
            closed = False
        return "there is no permission to save ratings" if closed else ""

    def last_rated(self, campaign: Campaign) -> str:
        """Return the day of the last rating; empty where nothing is rated or the store cannot be read."""
        file = self.folder / "ratings.sqlite"
        if not self.store and not file.exists():
            return ""
        try:
            with open_store(self.store or file) as store:
                runs = store.runs(campaign.title)
        except CorrelateError:
            return ""
        return str(runs[-1].started.date()) if runs else ""

    def tests(self, campaign: Campaign, load_case: LoadCase) -> list[Recording]:
        """Return the repeats of a load case; recordings are kept until their files change."""
        paths = campaign.test_paths(load_case)
        with self._lock:
            for path in paths:
                self._forget_if_changed(path)
            return [self._reader.recording(path) for path in paths]

    def shown_path(self, file: str) -> str:
        """Return a path without the project folder in front of it."""
        return file.removeprefix(f"{self.folder}/")

    def without_folder(self, sentence: str) -> str:
        """Return a sentence in which files are named from the project folder on."""
        return sentence.replace(f"{self.folder}/", "")

    def _forget_if_changed(self, path: Path) -> None:
        """Start with nothing read where a file is not what it was; that is rare, so all is read again."""
        stamp = stamp_of(path)
        if self._stamps.setdefault(path, stamp) != stamp:
            self._reader = CampaignReader()
            self._stamps = {path: stamp}


def offer_project(app: Dash, project: Project) -> None:
    """Let layouts and jobs ask what can be written."""
    app.server.extensions[_PROJECT] = project


def closed(place: Place) -> str:
    """Return why the server that answers can write nothing at a place; empty where it can."""
    found: Project | None = current_app.extensions.get(_PROJECT) if has_request_context() else None
    return "" if found is None else found.closed(place)


def read_only(reason: str) -> CorrelateError:
    """Return the refusal of what would write where that cannot be."""
    return CorrelateError(f"the project is read-only: {reason}", remedy="work in a copy of the project")


def stamp_of(path: Path) -> Stamp:
    """Return what changes when a file, or any file of a folder, does."""
    files = sorted(path.rglob("*")) if path.is_dir() else [path]
    known = ((file, file.stat()) for file in files if file.is_file())
    return tuple((str(file), seen.st_mtime_ns, seen.st_size) for file, seen in known)
