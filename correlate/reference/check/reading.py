"""Channels that the reader could not use, and codes that occur twice."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.formats.recording import SetAside


def examine_reading(set_aside: Sequence[SetAside], names: Sequence[str], *, file: str) -> Iterator[Finding]:
    """Say which channels are set aside, and which have the code or name of another."""
    for one in set_aside:
        place = one.error.where.removeprefix(file).lstrip("/\\:, ")
        yield Finding(
            kind="set aside",
            severity="error",
            file=file,
            channel=one.name,
            what=f"the channel cannot be used: {place + ': ' if place else ''}{one.error.what}",
            remedy=one.error.remedy or "export the channel again",
        )
    for name in names:
        match = re.fullmatch(r"(.+) #[0-9]+", name)
        if match and match[1] in names:
            yield Finding(
                kind="same name",
                severity="warning",
                file=file,
                channel=name,
                what=f"two channels are called '{match[1]}'; the second one is called '{name}' here",
                remedy="correct the code or name of one of them",
            )
