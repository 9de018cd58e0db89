"""Sentences about sign-offs, the same on pages, in reports and in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from correlate.store import SignOffToday

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def day_words(day: date) -> str:
    """Return a date as it is read.

    Parameters
    ----------
    day
        Any.

    Returns
    -------
    str

    Examples
    --------
    >>> from datetime import date
    >>> day_words(date(2026, 3, 9))
    '9 March 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def sign_off_words(signed: SignOffToday) -> str:
    """Say who signed in which role, when and for what, and whether the sign-off is still current.

    Parameters
    ----------
    signed
        With what has changed since.

    Returns
    -------
    str
        For instance ``manager, 9 March 2026, scope: seats``.
    """
    one = signed.sign_off
    scope = f", scope: {one.scope}" if one.scope else ""
    changed = sign_off_changes(signed)
    return f"{one.role}, {day_words(one.date)}{scope}{f' ({changed})' if changed else ''}"


def sign_off_changes(signed: SignOffToday) -> str:
    """Say that a sign-off is no longer current, and why; empty while it is.

    Parameters
    ----------
    signed
        With what has changed since.

    Returns
    -------
    str
    """
    return "" if signed.is_current else f"no longer current: {'; '.join(signed.changes)}"


def sign_off_lines(signed: Iterable[SignOffToday]) -> list[str]:
    """Return one line for each sign-off, with signer and remark, or that there is none.

    Parameters
    ----------
    signed
        Of one release, oldest first.

    Returns
    -------
    list of str
    """
    lines = []
    for one in signed:
        remark = f" “{one.sign_off.text}”" if one.sign_off.text else ""
        lines.append(f"Signed off by {sign_off_words(one)}; {one.sign_off.who}.{remark}")
    return lines or ["Not signed off."]
