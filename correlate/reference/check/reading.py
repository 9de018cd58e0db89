"""Tests and channels that the reader could not use, and codes that occur twice."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from correlate.errors import CorrelateError
from correlate.formats import read
from correlate.reference.check.statistics import unfit_reason
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout


def read_tests(
    paths: Iterable[Path], layouts: Sequence[ColumnLayout] = ()
) -> tuple[list[Recording], list[Finding]]:
    """Read tests; one that cannot be read becomes a finding and does not stop the others.

    Parameters
    ----------
    paths
        Of the tests.
    layouts
        For text in columns.

    Returns
    -------
    tuple
        The tests that could be read, and an error for each of the others.
    """
    recordings, findings = [], []
    for path in paths:
        try:
            recordings.append(read(path, layouts))
        except CorrelateError as error:
            findings.append(_unreadable(error, str(path)))
    return recordings, findings


def _unreadable(error: CorrelateError, file: str) -> Finding:
    return Finding(
        kind="set aside",
        severity="error",
        file=file,
        channel="",
        what=f"the test cannot be read: {_place(error, file)}{error.what}",
        remedy=error.remedy or "export the test again",
    )


def _place(error: CorrelateError, file: str) -> str:
    """Return where in the test the error is, followed by a colon."""
    place = error.where.removeprefix(file).lstrip("/\\:, ")
    return f"{place}: " if place else ""


def examine_reading(recording: Recording) -> Iterator[Finding]:
    """Say which channels cannot be used or judged, and which have the code or name of another."""
    file = str(recording.path)
    for one in recording.set_aside:
        yield Finding(
            kind="set aside",
            severity="error",
            file=file,
            channel=one.name,
            what=f"the channel cannot be used: {_place(one.error, file)}{one.error.what}",
            remedy=one.error.remedy or "export the channel again",
        )
    for signal in recording.signals:
        reason = unfit_reason(signal)
        if reason:
            yield Finding(
                kind="set aside",
                severity="error",
                file=file,
                channel=signal.channel,
                what=f"the channel cannot be checked: {reason}",
                remedy="export the channel again",
            )
    for name in recording.channel_names:
        match = re.fullmatch(r"(.+) #[0-9]+", name)
        if match and match[1] in recording.channel_names:
            yield Finding(
                kind="same name",
                severity="warning",
                file=file,
                channel=name,
                what=f"two channels are called '{match[1]}'; the second one is called '{name}' here",
                remedy="correct the code or name of one of them",
            )
