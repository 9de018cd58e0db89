"""Notes and sign-offs: who said what about which ratings, and when."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate.errors import StoreError
from correlate.store import RunInfo, open_store
from tests.store.writer import RUN, numbered_record, sha256

if TYPE_CHECKING:
    from correlate.store import Store

RECORDS = [numbered_record(number) for number in range(12)]
DAY = date(2031, 5, 6)


def test_notes_come_back(address: str) -> None:
    """Notes are returned as they were written, oldest first, also after the store was closed."""
    before = datetime.now(UTC)
    with open_store(address) as store:
        first = store.add_note("gauge 3 was replaced\nin test 2", campaign="KELP-M", who="lab")
        second = store.add_note(
            "late", campaign="KELP-M", release="A2", load_case="head-drop", channel="Δ ax", who="analyst"
        )
        other = store.add_note("other", campaign="KELP-S", release="A2", who="lab")
    assert (first.text, first.who, first.release) == ("gauge 3 was replaced\nin test 2", "lab", "")
    assert (second.load_case, second.channel) == ("head-drop", "Δ ax")
    assert before <= first.entered <= second.entered <= datetime.now(UTC)
    with open_store(address) as store:
        assert store.notes() == [first, second, other]
        assert store.notes(campaign="KELP-M") == [first, second]
        assert store.notes(campaign="KELP-M", release="A2") == [second]
        assert store.notes(release="A2") == [second, other]


@pytest.mark.parametrize("empty", ["text", "campaign", "who"])
def test_a_note_without_what_it_needs_is_refused(store: Store, empty: str) -> None:
    """Text, campaign and writer may not be empty; nothing is written."""
    words = {"text": "late", "campaign": "KELP-M", "who": "lab", empty: " "}
    with pytest.raises(StoreError, match=f"the note has no {empty}; give one"):
        store.add_note(words["text"], campaign=words["campaign"], who=words["who"])
    assert store.notes() == []


def test_text_that_no_database_can_keep_is_refused(store: Store) -> None:
    """A zero character is refused by SQLite and PostgreSQL alike, with one sentence."""
    with pytest.raises(StoreError, match=r"the text 'a\\x00b' of the note is not text that can be stored"):
        store.add_note("a\0b", campaign="KELP-M", who="lab")


def test_sign_offs_come_back(address: str) -> None:
    """A sign-off keeps role, date, text and release, who entered it, and the hash of what was signed."""
    with open_store(address) as store:
        store.keep(RECORDS, run=RUN)
        signed = store.sign_off(
            campaign="KELP-M",
            release="A2",
            role="manager",
            date=DAY,
            who="office",
            text="agreed on Tuesday",
            scope="for seat studies",
            inputs_sha256="c0ffee",
        )
        silent = store.sign_off(campaign="KELP-M", release="A1", role="lab", date=DAY, who="lab")
    assert (signed.role, signed.date, signed.text, signed.who) == (
        "manager",
        DAY,
        "agreed on Tuesday",
        "office",
    )
    assert (signed.scope, signed.inputs_sha256) == ("for seat studies", "c0ffee")
    assert (silent.scope, silent.inputs_sha256) == ("", "")
    with open_store(address) as store:
        assert store.sign_offs() == [signed, silent]
        assert store.sign_offs(campaign="KELP-M", release="A2") == [signed]
        assert store.sign_offs(campaign="KELP-S") == []


def test_a_sign_off_holds_for_the_ratings_it_was_given_for(store: Store) -> None:
    """The hash changes when a pair of the release gets another rating or a pair is added, and only then."""
    store.keep(RECORDS, run=RUN)
    signed = store.sign_off(campaign="KELP-M", release="A2", role="manager", date=DAY, who="office")

    def now() -> str:
        return store.ratings_sha256(campaign="KELP-M", release="A2")

    assert signed.ratings_sha256 == now()
    again = RunInfo(who="build", started=datetime(2031, 6, 1, tzinfo=UTC))
    store.keep(reversed(RECORDS), run=again)
    store.keep([replace(RECORDS[0], key=sha256("A1 anew"))], run=again)
    assert signed.ratings_sha256 == now()
    store.keep([replace(RECORDS[1], key=sha256("A2 anew"))], run=again)
    anew = now()
    assert signed.ratings_sha256 != anew
    store.keep([replace(RECORDS[1], repeat="one more")], run=again)
    assert now() not in {signed.ratings_sha256, anew}
    assert store.sign_offs() == [signed]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"release": "A8"}, "campaign 'KELP-M' has no ratings of a release 'A8'; correct the name"),
        ({"campaign": "KELP"}, "campaign 'KELP' has no ratings of a release 'A2'; correct the name"),
        ({"role": ""}, "the sign-off has no role; give one"),
        ({"who": " "}, "the sign-off has no who; give one"),
    ],
)
def test_a_sign_off_that_is_refused(store: Store, wrong: dict[str, str], sentence: str) -> None:
    """What is not rated cannot be signed, and a sign-off names role and writer; nothing is written."""
    store.keep(RECORDS, run=RUN)
    words = {"campaign": "KELP-M", "release": "A2", "role": "lab", "who": "lab", **wrong}
    with pytest.raises(StoreError, match=sentence):
        store.sign_off(**words, date=DAY)
    assert store.sign_offs() == []
