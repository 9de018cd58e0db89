"""Sentences about sign-offs."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from correlate.plots.sign_off_words import day_words, sign_off_changes, sign_off_words
from correlate.store import SignOff, SignOffToday

SIGNED = SignOff(
    campaign="c",
    release="A2",
    role="manager",
    date=date(2026, 3, 2),
    text="",
    who="somebody",
    entered=datetime(2026, 3, 3, tzinfo=UTC),
    ratings_sha256="a" * 64,
    scope="not for neck extension",
)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ((), ""),
        (("rated again",), "no longer current: rated again"),
        (("rated again", "files differ"), "no longer current: rated again; files differ"),
    ],
)
def test_scope_and_changes_stand_beside_role_and_date(changes: tuple[str, ...], words: str) -> None:
    """Everything that changed is said."""
    one = SignOffToday(sign_off=SIGNED, changes=changes)
    assert sign_off_changes(one) == words
    said = "manager, 2 March 2026, scope: not for neck extension"
    assert sign_off_words(one) == (f"{said} ({words})" if words else said)


@pytest.mark.parametrize(
    ("day", "words"), [(date(2026, 12, 31), "31 December 2026"), (date(2027, 1, 1), "1 January 2027")]
)
def test_dates_are_written_out(day: date, words: str) -> None:
    """Day, month in words, year."""
    assert day_words(day) == words
