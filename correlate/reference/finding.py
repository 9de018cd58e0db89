"""Findings of the data check, and who answers for them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date as Date  # noqa: N812 - a field is called date
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, Self, get_args

from pydantic import Field, model_validator

from correlate.display import grouped, short_repr
from correlate.toml import Table, read_toml

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from correlate.reference.check import CheckOutcome


Severity = Literal["error", "warning", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = get_args(Severity)
"""Worst first."""

Kind = Literal[
    "set aside",
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
    "exchanged channels",
    "cross-talk",
    "loose mount",
    "lost samples",
    "time zero",
    "unlike repeats",
    "redundancy",
    "expected peak",
    "missing channel",
    "same name",
    "sensor unknown",
    "sensor overdue",
    "sensor polarity",
    "sensor sensitivity",
    "sensor range",
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
        One of ``correlate.reference.repair.REPAIRS``, or ``exchange channels``.
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
        return " / ".join(word for word in (_name_of(self.file), self.channel) if word)

    @property
    def span_words(self) -> str:
        """The time span in ms; empty where there is none."""
        if self.start_s is None or self.end_s is None:
            return ""
        if self.start_s == self.end_s:
            return f"{self.start_s * 1e3:.4g} ms"
        return f"{self.start_s * 1e3:.4g} to {self.end_s * 1e3:.4g} ms"


@lru_cache(maxsize=4096)
def _name_of(file: str) -> str:
    """Return the name of a test without its folder; cached, because many findings are about one test."""
    return Path(file).name


def counted(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> counted(1, "spike"), counted(2, "stretch", "stretches")
    ('1 spike', '2 stretches')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def equal_findings(findings: Iterable[Finding]) -> list[list[Finding]]:
    """Return findings that say the same together, whatever test, channel and time they are of."""
    return grouped(findings, lambda one: (one.severity, one.kind, one.what, one.remedy, one.repair is None))


def places_of(findings: Sequence[Finding]) -> str:
    """Name the place of one finding, or count the channels of several by test.

    Examples
    --------
    >>> words = {"kind": "range", "severity": "note", "what": "", "remedy": ""}
    >>> places_of([Finding(file="T1", channel=name, **words) for name in ("a", "b")])
    '2 channels: T1 (2)'
    """
    if len(findings) == 1:
        return findings[0].short_place
    tests = Counter(Path(one.file).name for one in findings)
    one, many = ("channel", "channels") if all(one.channel for one in findings) else ("place", "places")
    listed = ", ".join(f"{name} ({count})" for name, count in tests.items())
    return f"{counted(len(findings), one, many)}: {listed}"


def worst_first(finding: Finding) -> tuple[int, str, str, int]:
    """Return a sort key: severity, then test, channel and kind."""
    return SEVERITIES.index(finding.severity), finding.file, finding.channel, KINDS.index(finding.kind)


WAIVER_FILE: Final = "waivers.toml"
"""Name of the file, beside the campaign file."""

Words = Annotated[str, Field(min_length=1, pattern=r"\S")]


class Waiver(Table):
    """One finding that is accepted.

    Attributes
    ----------
    test
        Name of the test: that of its folder or file.
    channel
        Channel code or name; left out for a finding of the whole test.
    finding
        Kind of the finding, as `correlate check` prints it.
    who
        Who answers for it.
    date
        When.
    why
        Why the data may be used nevertheless.
    """

    test: Words
    channel: str = ""
    finding: Kind
    who: Words
    date: Date
    why: Words

    @property
    def words(self) -> str:
        """Who, when and why, for people."""
        return f"waived by {self.who} on {self.date.isoformat()}: {self.why}"

    def covers(self, finding: Finding) -> bool:
        """Say whether this is the finding."""
        path = Path(finding.file)
        same_test = self.test in {path.name, path.stem}
        return same_test and (self.channel, self.finding) == (finding.channel, finding.kind)

    @model_validator(mode="after")
    def _lies_in_the_past(self) -> Self:
        if self.date > Date.today():  # noqa: DTZ011 - a day as people write it
            raise ValueError(
                f"the date {self.date.isoformat()} lies in the future; write the day of the decision"
            )
        return self


class WaiverTable(Table):
    """The whole file.

    Attributes
    ----------
    waivers
        One line a finding.
    """

    waivers: list[Waiver] = Field(default_factory=list)

    @model_validator(mode="after")
    def _no_finding_twice(self) -> Self:
        seen = [(one.test, one.channel, one.finding) for one in self.waivers]
        twice = next((one for one in seen if seen.count(one) > 1), None)
        if twice is not None:
            raise ValueError(f"'{' '.join(twice)}' is waived twice; remove one line")
        return self


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class WaiverBook:
    """The waivers of a project.

    Attributes
    ----------
    path
        Of the file; None where there is none.
    waivers
        In the order of the file.
    """

    path: Path | None = None
    waivers: tuple[Waiver, ...] = ()

    def waiver_of(self, finding: Finding) -> Waiver | None:
        """Return the waiver of a finding; None where it is open."""
        return next((one for one in self.waivers if one.covers(finding)), None)


@short_repr
@dataclass(frozen=True, slots=True)
class WaivedFinding:
    """A finding that is accepted.

    Attributes
    ----------
    finding
        Of the data check.
    waiver
        Who accepted it, when and why.
    """

    finding: Finding
    waiver: Waiver


NO_WAIVERS: Final = WaiverBook()


def load_waivers(path: str | Path) -> WaiverBook:
    """Read the waivers of a project.

    Parameters
    ----------
    path
        The file, or the folder that may hold a ``waivers.toml``.

    Returns
    -------
    WaiverBook
        Empty where the folder holds none.

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once, each with line and key.
    """
    path = Path(path)
    if path.is_dir():
        if not (path / WAIVER_FILE).exists():
            return NO_WAIVERS
        return load_waivers(path / WAIVER_FILE)
    table = read_toml(path, WaiverTable, kind="a file of waivers").table
    return WaiverBook(path=path, waivers=tuple(table.waivers))


def with_waivers(outcome: CheckOutcome, book: WaiverBook) -> CheckOutcome:
    """Take the waived findings out of a check, and list them with their waivers.

    Parameters
    ----------
    outcome
        Of the check.
    book
        Of the project.

    Returns
    -------
    CheckOutcome
        Its ``findings`` are those still open.

    Notes
    -----
    A waiver whose finding is not there any more is listed as unused when its test was checked.
    """
    pairs = [(finding, book.waiver_of(finding)) for finding in outcome.findings]
    used = [waiver for _, waiver in pairs if waiver is not None]
    tests = {name for one in outcome.channels for name in (Path(one.file).name, Path(one.file).stem)}
    return replace(
        outcome,
        findings=tuple(finding for finding, waiver in pairs if waiver is None),
        waived=tuple(WaivedFinding(finding, waiver) for finding, waiver in pairs if waiver is not None),
        unused_waivers=tuple(one for one in book.waivers if one not in used and one.test in tests),
    )
