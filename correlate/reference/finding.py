"""What the data check says: a finding with its evidence, and the repair it proposes."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping

Severity = Literal["error", "warning", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = get_args(Severity)
"""Worst first."""

Kind = Literal[
    "saturation",
    "spike",
    "dropout",
    "uneven step",
    "sample rate",
    "no pre-trigger",
    "offset",
    "drift",
    "noise",
    "resolution",
    "range",
    "filter class",
    "copy",
    "polarity",
    "unit",
    "gain",
    "axes",
    "time zero",
    "unlike repeats",
    "redundancy",
    "expected peak",
    "missing channel",
]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
"""Every kind of finding."""


@short_repr
@dataclass(frozen=True, slots=True)
class RepairProposal:
    """A repair that nobody has accepted yet.

    Attributes
    ----------
    name
        One of ``correlate.reference.repair_steps.REPAIRS``, or ``exchange channels``.
    settings
        What the repair needs to know, units in the names.
    """

    name: str
    settings: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Freeze the settings."""
        object.__setattr__(self, "settings", MappingProxyType(dict(self.settings)))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that looks wrong in a channel or a test.

    Attributes
    ----------
    kind
        What it is.
    severity
        ``error``: do not rate with these data; ``warning``: look at it; ``note``: worth knowing.
    file
        Test as the user named it.
    channel
        Channel code or name; empty for the whole test.
    what
        One sentence.
    remedy
        What to do.
    evidence
        The numbers behind it, units in the names.
    start_s, end_s
        Time span, s; None where the finding has none.
    repair
        A step that would set it right once accepted; None where only the laboratory can.
    """

    kind: Kind
    severity: Severity
    file: str
    channel: str
    what: str
    remedy: str
    evidence: Mapping[str, float | str] = field(default_factory=dict)
    start_s: float | None = None
    end_s: float | None = None
    repair: RepairProposal | None = None

    def __post_init__(self) -> None:
        """Freeze the evidence."""
        object.__setattr__(self, "evidence", MappingProxyType(dict(self.evidence)))

    @property
    def place(self) -> str:
        """File and channel, for people."""
        return f"{self.file}, channel '{self.channel}'" if self.channel else self.file

    @property
    def short_place(self) -> str:
        """Name of the test and channel, for people who need not know where the file lies."""
        return " / ".join(word for word in (Path(self.file).name, self.channel) if word)

    @property
    def span_words(self) -> str:
        """The time span in ms; empty where there is none."""
        if self.start_s is None or self.end_s is None:
            return ""
        if self.start_s == self.end_s:
            return f"{self.start_s * 1e3:.4g} ms"
        return f"{self.start_s * 1e3:.4g} to {self.end_s * 1e3:.4g} ms"


def counted(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun.

    Parameters
    ----------
    count
        How many.
    one, many
        The noun; an s is added where the plural is left out.

    Returns
    -------
    str

    Examples
    --------
    >>> counted(1, "spike"), counted(2, "stretch", "stretches")
    ('1 spike', '2 stretches')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def worst_first(finding: Finding) -> tuple[int, str, str, int]:
    """Return a sort key: severity, then test, channel and kind.

    Parameters
    ----------
    finding
        Any finding.

    Returns
    -------
    tuple
    """
    return SEVERITIES.index(finding.severity), finding.file, finding.channel, KINDS.index(finding.kind)
