"""A run says who and when."""

from __future__ import annotations

import getpass
import os
from datetime import UTC, datetime

import pytest

from correlate.errors import StoreError
from correlate.store import RunInfo
from correlate.version import VERSION

MOMENT = datetime(2031, 4, 5, tzinfo=UTC)


def test_now_names_account_version_and_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a name, the account counts; version and moment are those of the program."""
    monkeypatch.setattr(getpass, "getuser", lambda: "analyst")
    before = datetime.now(UTC)
    run = RunInfo.now(campaign_sha256="c0ffee")
    assert (run.who, run.version, run.campaign_sha256) == ("analyst", VERSION, "c0ffee")
    assert before <= run.started <= datetime.now(UTC)
    assert RunInfo.now(who="build").who == "build"


def test_an_account_without_name_is_told_by_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    """A container may run under a number without a name; the rating goes on all the same."""

    def nameless() -> str:
        raise KeyError("uid not found")

    monkeypatch.setattr(getpass, "getuser", nameless)
    assert RunInfo.now().who == f"account {os.getuid()}"


def test_a_run_of_nobody_is_refused() -> None:
    """Somebody must be named."""
    with pytest.raises(StoreError, match="run: the run has no user name; give the name of the user"):
        RunInfo(who=" ", started=MOMENT)


def test_a_moment_without_zone_is_refused() -> None:
    """A moment without time zone would mean another one elsewhere."""
    with pytest.raises(StoreError, match="2031-04-05T00:00:00 has no time zone"):
        RunInfo(who="lab", started=MOMENT.replace(tzinfo=None))
