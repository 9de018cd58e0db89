"""The state of the server: one project, its campaign and a cache of recordings."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Final, Literal

from flask import current_app, has_request_context

from correlate import (
    CampaignReader,
    CaseEvaluation,
    CorrelateError,
    StoredNumbers,
    StoredResults,
    load_campaign,
    may_write,
    newest_rated,
    open_store,
    proposals_of,
    scoreboard,
    store_is_read_only,
    stored_board,
    stored_channel,
    stored_numbers,
)
from correlate.addresses import addressed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from dash import Dash

    from correlate import (
        Campaign,
        CampaignPair,
        ChannelCeiling,
        LoadCase,
        Proposal,
        Recording,
        Release,
        Store,
        StoredBoard,
        TestFindings,
    )
    from dashboard.selection import Selection

_PROJECT: Final = "correlate-project"

Proposals = list[tuple[str, "list[Proposal]"]]
"""Load case and partners of each test channel that has none."""

MOST_KEPT: Final = 10_000
"""Proposals that are kept until the next question; more would fill the memory."""

MOST_BYTES: Final = 100 * 10**6
"""Maximum size of recordings that are kept when others are read."""

Place = Literal["folder", "store"]
"""Where something would be written: the project folder, or the results store."""

Stamp = tuple[tuple[str, int, int], ...]
"""What changes when a file, or any file of a folder, does."""


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
    _campaign: Campaign | None = field(default=None, repr=False)
    _reader: CampaignReader = field(default_factory=CampaignReader, repr=False)
    _stamps: dict[Path, Stamp] = field(default_factory=dict, repr=False)
    _proposals_lock: Lock = field(default_factory=Lock, repr=False)
    _proposals: tuple[object, Proposals] | None = field(default=None, repr=False)

    @property
    def campaign_file(self) -> Path:
        """Where the campaign is expected."""
        return self.folder / "campaign.toml"

    def campaign(self) -> Campaign:
        """Return the campaign as its file is now; it is read again only when its bytes have changed.

        What it names in object storage is listed again each time.
        """
        known = self._campaign
        if known is None or not known.is_current:
            known = self._campaign = load_campaign(self.campaign_file)
        return known.with_new_listings()

    def evaluation(self, campaign: Campaign, selection: Selection) -> CaseEvaluation:
        """Return the evaluation of a load case; recordings are read once, until their files change."""
        load_case = selection.pair.load_case
        with self._lock:
            self._make_room(selection.paths)
            for path in selection.paths:
                self._forget_if_changed(path)
            return CaseEvaluation(campaign, load_case, reader=self._reader, change=selection.change)

    def board(self, campaign: Campaign, *, release: str = "", against: str = "") -> StoredBoard:
        """Read the scoreboard of a release from the results store."""
        self._need_store(campaign)
        with self.opened_store() as store:
            return stored_board(store, campaign, release=release, against=against)

    @contextmanager
    def results(self, campaign: Campaign) -> Iterator[StoredResults]:
        """Open the results store for several queries; refuse if nothing is rated yet."""
        self._need_store(campaign)
        with self.opened_store() as store:
            yield StoredResults(store, campaign)

    def numbers(self, campaign: Campaign, *, release: str | None = None, against: str = "") -> StoredNumbers:
        """Read the numbers of a release and its baseline, of all rated releases where none is named."""
        if not self._has_store():
            return StoredNumbers(scores={}, evidence={}, ceilings=None)
        with self.opened_store() as store:
            return stored_numbers(store, campaign, release=release, against=against)

    def opened_store(self) -> Store:
        """Open the results store; a file that is not there is made."""
        return open_store(self.store or self.folder / "ratings.sqlite")

    def newest_rated(self, campaign: Campaign) -> str:
        """Return the last rated release; the last one where none is rated or the store cannot be read."""
        last = campaign.releases[-1].name
        if not self._has_store():
            return last
        try:
            with self.opened_store() as store:
                return newest_rated(store, campaign) or last
        except CorrelateError:
            # Whoever shows what is stored says what is wrong with the store.
            return last

    def stored_channel(self, campaign: Campaign, pair: CampaignPair) -> dict[str, float]:
        """Return the stored ratings of a channel of a release by repeat; empty where it is not rated."""
        if not self._has_store():
            return {}
        with self.opened_store() as store:
            return stored_channel(
                store,
                campaign,
                release=pair.release.name,
                load_case=pair.load_case.name,
                channel=pair.channel.name,
            )

    def stored_ceiling(self, campaign: Campaign, pair: CampaignPair) -> float | None:
        """Return the stored ceiling of a channel; None where there is none."""
        place = pair.load_case.name, pair.channel.name
        found = self.ceilings(campaign)
        return next((one.overall for one in found if (one.load_case, one.channel) == place), None)

    def ceilings(self, campaign: Campaign) -> list[ChannelCeiling]:
        """Return the stored ceilings of all channels; none if there is no store."""
        if not self._has_store():
            return []
        with self.opened_store() as store:
            return store.ceilings(campaign.title)

    def findings(self, campaign: Campaign) -> dict[str, TestFindings]:
        """Return the saved findings of the data check by load case; none if there is no store."""
        if not self._has_store():
            return {}
        with self.opened_store() as store:
            return store.findings(campaign.title)

    def _need_store(self, campaign: Campaign) -> None:
        if not self._has_store():
            # Raises the error that nothing is rated, which names the command that rates.
            scoreboard(campaign, {})

    def _has_store(self) -> bool:
        """Tell whether there is a store; opening would create one, which looking at a page must not do."""
        return bool(self.store) or (self.folder / "ratings.sqlite").exists()

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
        if not self._has_store():
            return ""
        try:
            with self.opened_store() as store:
                run = store.last_run(campaign.title)
        except CorrelateError:
            return ""
        return "" if run is None else str(run.started.date())

    def tests(self, campaign: Campaign, load_case: LoadCase) -> list[Recording]:
        """Return the repeats of a load case; recordings are kept until their files change."""
        paths = campaign.test_paths(load_case)
        with self._lock:
            self._make_room(paths)
            for path in paths:
                self._forget_if_changed(path)
            return [self._reader.recording(path) for path in paths]

    def proposals(self, campaign: Campaign, release: Release) -> Proposals:
        """Rank partners for the channels that have none in a release, once for the same files."""
        files = [
            path
            for case in campaign.load_cases
            for path in (campaign.model_path(release, case), *campaign.test_paths(case))
        ]
        # The hash is that of the campaign file, which may name layouts in files of their own.
        made_from = (campaign.sha256, dict(campaign.layouts), release.name, [*map(stamp_of, files)])
        with self._proposals_lock:
            if self._proposals is not None and self._proposals[0] == made_from:
                return self._proposals[1]
            found = proposals_of(campaign, release)
            is_small = sum(len(ranked) for _, ranked in found) <= MOST_KEPT
            self._proposals = (made_from, found) if is_small else None
            return found

    def shown_path(self, file: str) -> str:
        """Return a path without the project folder in front of it."""
        return addressed(file).removeprefix(f"{self.folder}/")

    def without_folder(self, sentence: str) -> str:
        """Return a sentence in which files are named from the project folder on."""
        return addressed(sentence).replace(f"{self.folder}/", "")

    def _make_room(self, paths: Iterable[Path]) -> None:
        """Discard all recordings before others are read if they exceed the limit; those of one page stay."""
        kept = self._reader.recordings
        if any(path not in kept for path in paths) and _size(list(kept.values())) > MOST_BYTES:
            self._reader = CampaignReader()
            self._stamps = {}

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


def _size(recordings: Iterable[Recording]) -> int:
    return sum(signal.samples.nbytes for one in recordings for signal in one.signals)


def stamp_of(path: Path) -> Stamp:
    """Return what changes when a file, or any file of a folder, does."""
    files = sorted(path.rglob("*")) if path.is_dir() else [path]
    known = ((file, file.stat()) for file in files if file.is_file())
    return tuple((str(file), seen.st_mtime_ns, seen.st_size) for file, seen in known)
