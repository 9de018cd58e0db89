"""Results of a campaign in the terminal."""

from __future__ import annotations

import io
from types import SimpleNamespace
from typing import Any

import pytest
from rich.console import Console

from correlate.campaign.gate import Check
from correlate.report.campaign import MOST_REASONS, print_checks

DECISION: Any = SimpleNamespace(release="A2", verdict="A2 cannot be released", poor=())


def printed(*reasons: str) -> list[str]:
    """Return the lines printed for a check that failed for some reasons."""
    out = io.StringIO()
    check = Check(where="reference data", condition="no open error", reasons=reasons)
    print_checks(Console(file=out, width=80), [check], DECISION, ())
    lines = out.getvalue().splitlines()
    return lines[: next(number for number, line in enumerate(lines) if line.startswith("Release A2"))]


def test_one_reason_stands_beside_its_check() -> None:
    """A single reason is printed on the line of the check."""
    assert printed("push: drift") == ["reference data: no open error: push: drift"]


@pytest.mark.parametrize("count", [2, MOST_REASONS, MOST_REASONS + 1, 500])
def test_each_of_several_reasons_has_its_line_and_most_of_many_are_counted(count: int) -> None:
    """A release with hundreds of errors does not fill the terminal, and says how many it does not show."""
    lines = printed(*(f"case-{number}: drift" for number in range(count)))
    shown = min(count, MOST_REASONS)
    more = [f"  {count - shown} more, listed by --json and --junit"] if count > shown else []
    reasons = [f"  case-{number}: drift" for number in range(shown)]
    assert [line.rstrip() for line in lines] == ["reference data: no open error:", *reasons, *more]
