"""The operations that are killed: what each begins with, its command, and what may differ from run to run."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass, field
from fnmatch import fnmatch
from typing import TYPE_CHECKING, Any

from tests.faults import projects
from tests.faults.servers import empty_schema
from tests.faults.snapshot import json_without, names_in_zip, whole

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from tests.faults.snapshot import Normal

_TEMPORARY = re.compile(r"(^|/)\.[^/]*(\.part|\.ingest-[^/]*)(/|$)|(^|/)\.(ingest|part)-")


def _nothing(*_: Any) -> None:
    """Do nothing."""


@dataclass(frozen=True, kw_only=True)
class Operation:
    """Something that a command does with a project.

    Attributes
    ----------
    name
        For people.
    words
        Program and arguments; it runs in the folder of the project. ``STORE`` stands for the address of a
        store on a server.
    build
        Writes the project into an empty folder.
    ready
        Does what comes before the command each time, the second time too, such as an upload.
    again
        Command of the next run where that is another one.
    good, already
        Exit codes of an undisturbed command, and of one that finds its work done.
    contents
        By pattern of a path, how a content is made comparable; None where it does not matter.
    unfinished
        Patterns of paths and tables that a killed command may leave in any state, as the next run replaces
        them.
    loose
        Tables that tell how often a command was run.
    victims
        Who may be killed at a moment.
    fill
        Fills the store on a server; None where there is none.
    also, at_end
        Find what else does not hold after the kill, and after the next run.
    in_suite
        Whether the tests of every day do rounds of it.
    """

    name: str
    words: tuple[str, ...]
    build: Callable[[Path], None]
    ready: Callable[[Path], None] = _nothing
    again: tuple[str, ...] = ()
    good: tuple[int, ...] = (0,)
    already: tuple[int, ...] = ()
    contents: Mapping[str, Normal | None] = field(default_factory=dict)
    unfinished: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    victims: tuple[str, ...] = ("main", "group")
    fill: Callable[[str], None] | None = None
    also: Callable[[Path], Iterable[str]] = lambda _: ()
    at_end: Callable[[Path], Iterable[str]] = lambda _: ()
    in_suite: bool = True

    @property
    def fault(self) -> str:
        """What disturbs it beside a kill."""
        return "full disk" if self.fill is None else "lost connection"

    def normal(self, name: str) -> Normal | None:
        """Return how the content of a file is made comparable."""
        for pattern, found in self.contents.items():
            if fnmatch(name, pattern):
                return found
        return whole

    def is_temporary(self, name: str) -> bool:
        """Say whether a killed command may leave this in any state."""
        return _TEMPORARY.search(name) is not None or any(fnmatch(name, one) for one in self.unfinished)

    @contextmanager
    def address(self) -> Iterator[str]:
        """Give the address of a store on a server, filled anew; empty where there is none."""
        if self.fill is None:
            yield ""
            return
        with empty_schema() as url:
            self.fill(url)
            yield url


_RUNS = ("ratings.sqlite: runs", "runs")
_NEW_RELEASE = ("releases/*/.not-in-campaign",)
_UPLOADED: dict[str, Any] = {
    "words": ("jobs", ".", "../jobs"),
    "unfinished": _NEW_RELEASE,
    "at_end": projects.nothing_is_left_of_uploads,
}

OPERATIONS: tuple[Operation, ...] = (
    Operation(
        name="score",
        words=("correlate", "score", ".", "--workers", "2", "--release", "A2"),
        again=("correlate", "score", ".", "--workers", "1", "--release", "A2"),
        build=projects.small,
        loose=_RUNS,
        victims=("main", "child", "group"),
    ),
    Operation(
        name="score on PostgreSQL",
        words=("correlate", "score", ".", "--workers", "1", "--store", "STORE"),
        build=projects.small,
        loose=_RUNS,
        fill=_nothing,
    ),
    Operation(
        name="sign",
        words=("correlate", "sign", ".", "A2", "--as", "lab", "--who", "the lab", "--date", "2026-11-02"),
        build=projects.rated,
    ),
    Operation(
        name="tune run",
        words=("correlate", "tune", "run", "."),
        # A solver that was killed alone counts as one that failed.
        again=("correlate", "tune", "run", ".", "--again"),
        build=projects.tuned,
        contents={
            "*/lock": None,
            "*/record.json": json_without("started", "duration_s"),
        },
        unfinished=("runs/*", "runs"),
        victims=("main", "child", "group"),
    ),
    Operation(
        name="tune write",
        words=("correlate", "tune", "write", ".", "--run", "p001", "--release", "T1"),
        build=projects.tuned_and_run,
        already=(2,),
        unfinished=_NEW_RELEASE,
    ),
    Operation(
        name="tune fit",
        words=("correlate", "tune", "fit", "."),
        build=projects.finished_runs,
        in_suite=False,
    ),
    Operation(
        name="pack",
        words=("correlate", "pack", "laboratory", "--out", "drops.zip", "--checked-by", "lab"),
        build=projects.drops,
        contents={"*.zip": names_in_zip},
        already=(2,),
    ),
    Operation(
        name="unpack",
        words=("correlate", "unpack", "drops.zip", "--into", "drops"),
        build=projects.packed,
        already=(2,),
    ),
    Operation(
        name="packages receive",
        words=("correlate", "packages", "receive", ".", "drops.zip"),
        build=projects.packed,
        already=(2,),
    ),
    Operation(
        name="packages release",
        words=("correlate", "packages", "release", ".", "drops", "--who", "lab", "--why", "needed"),
        build=projects.quarantined,
        already=(2,),
        contents={"*/drops.json": json_without("when")},
        also=projects.package_is_whole,
    ),
    Operation(
        name="packages use",
        words=(
            "correlate",
            "packages",
            "use",
            ".",
            "more",
            "--new",
            "drop-2",
            "--interval",
            "0",
            "40",
            "--write",
        ),
        build=projects.received,
        already=(2,),
    ),
    Operation(
        name="upload of a package",
        build=projects.packed,
        ready=projects.upload_package,
        **_UPLOADED,
    ),
    Operation(
        name="upload of results",
        build=projects.small,
        ready=projects.upload_results,
        **_UPLOADED,
    ),
    Operation(
        name="migration",
        words=("open", "ratings.sqlite"),
        build=projects.old_store_file,
        unfinished=("ratings.sqlite: *",),
        also=projects.store_is_old_or_new,
    ),
    Operation(
        name="migration on PostgreSQL",
        words=("open", "STORE"),
        build=projects.empty,
        fill=projects.old_store_in,
        unfinished=("*",),
    ),
    Operation(
        name="accounts migration",
        words=("accounts", "accounts.sqlite"),
        build=projects.old_accounts_file,
        unfinished=("accounts.sqlite: *",),
        at_end=projects.trail_is_sound,
    ),
    Operation(
        name="accounts migration on PostgreSQL",
        words=("accounts", "STORE"),
        build=projects.empty,
        fill=projects.old_accounts_in,
        unfinished=("*",),
    ),
    Operation(
        name="qualify --keep",
        words=(
            *("correlate", "qualify", "P1", "--keep", "laboratory.toml", "--device", "KELP-M"),
            *("--test", "pelvis", "--windows", "windows.toml"),
        ),
        build=projects.register,
        contents={"qualifications/*": json_without("written")},
    ),
)


def named(name: str) -> Operation:
    """Return an operation by name."""
    return next(one for one in OPERATIONS if one.name == name)
