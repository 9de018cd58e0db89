"""Who rated when, with what."""

from __future__ import annotations

import getpass
import os
from dataclasses import dataclass
from datetime import UTC, datetime

from correlate.display import short_repr
from correlate.errors import StoreError
from correlate.version import VERSION


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RunInfo:
    """One run of the program over a campaign. Equal ones are the same run.

    Attributes
    ----------
    who
        Person, account or build that started it.
    started
        When; with a time zone.
    version
        Of the program.
    campaign_sha256
        Of the bytes of the campaign file; empty when there was none.

    Raises
    ------
    StoreError
        Nobody is named, or the moment has no time zone.
    """

    who: str
    started: datetime
    version: str = VERSION
    campaign_sha256: str = ""

    def __post_init__(self) -> None:
        """Check what a table could not."""
        if not self.who.strip():
            raise StoreError("the run has no user name", where="run", remedy="give the name of the user")
        if self.started.utcoffset() is None:
            raise StoreError(
                f"the moment {self.started.isoformat()} has no time zone",
                where="run",
                remedy="give it one, for instance datetime.now(UTC)",
            )

    @classmethod
    def now(cls, *, who: str = "", campaign_sha256: str = "") -> RunInfo:
        """Return a run that starts at this moment.

        Parameters
        ----------
        who
            The account this program runs under, when left out.
        campaign_sha256
            Of the bytes of the campaign file.
        """
        return cls(who=who or _account(), started=datetime.now(UTC), campaign_sha256=campaign_sha256)


def _account() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        # A container may run under a number that no account has.
        return f"account {os.getuid()}"
