"""What the server keeps: one project, its campaign and the recordings read so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from correlate import CampaignReader, load_campaign, score_pair

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign, CampaignPair, PairScore, Recipe

Stamp = tuple[tuple[str, int, int], ...]


@dataclass(slots=True)
class Project:
    """A project folder, read when first asked for and again when its files change.

    Attributes
    ----------
    folder
        Holds ``campaign.toml``.
    """

    folder: Path
    _lock: Lock = field(default_factory=Lock, repr=False)
    _reader: CampaignReader = field(default_factory=CampaignReader, repr=False)
    _stamps: dict[Path, Stamp] = field(default_factory=dict, repr=False)

    @property
    def campaign_file(self) -> Path:
        """Where the campaign is expected."""
        return self.folder / "campaign.toml"

    def campaign(self) -> Campaign:
        """Return the campaign as its file is now.

        Raises
        ------
        CorrelateError
            The file is absent or holds mistakes.
        """
        return load_campaign(self.campaign_file)

    def score(self, campaign: Campaign, pair: CampaignPair, recipe: Recipe) -> PairScore:
        """Rate a pair; recordings are kept until their files change.

        Parameters
        ----------
        campaign
            For the settings of the rating.
        pair
            Which.
        recipe
            How its signals are conditioned.

        Returns
        -------
        PairScore

        Raises
        ------
        CorrelateError
            A file cannot be read, or the pair cannot be conditioned or rated.
        """
        with self._lock:
            for path in (pair.test_path, pair.model_path):
                self._forget_if_changed(path)
            reference, candidate = self._reader.signals(pair)
        return score_pair(reference, candidate, recipe=recipe, settings=campaign.settings)

    def shown_path(self, file: str) -> str:
        """Return a path without the project folder in front of it.

        Parameters
        ----------
        file
            As a signal's source gives it.

        Returns
        -------
        str
        """
        return file.removeprefix(f"{self.folder}/")

    def _forget_if_changed(self, path: Path) -> None:
        """Start with nothing read where a file is not what it was; that is rare, so all is read again."""
        stamp = _stamp(path)
        if self._stamps.setdefault(path, stamp) != stamp:
            self._reader = CampaignReader()
            self._stamps = {path: stamp}


def _stamp(path: Path) -> Stamp:
    """Return what changes when a file, or any file of a folder, does."""
    files = sorted(path.rglob("*")) if path.is_dir() else [path]
    known = ((file, file.stat()) for file in files if file.is_file())
    return tuple((str(file), seen.st_mtime_ns, seen.st_size) for file, seen in known)
