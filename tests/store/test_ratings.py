"""Ratings go in once and come back as they were."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store import RatedRelease, RunInfo, Store, open_store
from correlate.store.ratings import CHUNK
from tests.store.writer import RUN, numbered_record, sha256

if TYPE_CHECKING:
    from collections.abc import Iterator

RECORDS = [numbered_record(number) for number in range(60)]
LATER = RunInfo(who="analyst", started=datetime(2031, 4, 6, 7, 0, tzinfo=UTC), version="0.2.0")

NAME = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1, max_size=8)
SCORE = st.floats(0.0, 1.0)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
ANY_RECORD = st.builds(
    PairRecord,
    key=st.just(""),
    campaign=st.just(""),
    release=st.sampled_from(["A1", "A2"]),
    load_case=NAME,
    channel=NAME,
    repeat=NAME,
    overall=SCORE,
    grade=st.sampled_from(["good", "poor"]),
    corridor=SCORE,
    phase=SCORE,
    magnitude=SCORE,
    slope=SCORE,
    shift_s=st.floats(allow_nan=False, allow_infinity=False),
    samples=st.integers(20, 2**31 - 1),
    inputs=st.fixed_dictionaries({"reference": JSON, "candidate": JSON}),
    settings=st.dictionaries(st.text(), JSON, max_size=3),
    ingredients=st.dictionaries(st.text(), JSON, max_size=3),
    version=NAME,
)
NUMBERS = count()


def rows(store: Store, table: str) -> int:
    """Count the rows of a table, past the store's own questions."""
    with store._engine.connect() as connection:
        return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())  # noqa: S608


def pair_of(record: PairRecord) -> tuple[str, ...]:
    """Return the names of the pair."""
    return record.release, record.load_case, record.channel, record.repeat


def test_what_is_kept_comes_back(address: str) -> None:
    """Records come back equal and in order, also after the store was closed."""
    with open_store(address) as store:
        store.keep(RECORDS, run=RUN)
    with open_store(address) as store:
        assert store.ratings() == RECORDS
        assert store.known(record.key for record in RECORDS) == {record.key: record for record in RECORDS}


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(made=st.lists(ANY_RECORD, max_size=6), order=st.lists(st.integers(0, 5), max_size=12))
def test_any_record_kept_any_number_of_times(store: Store, made: list[PairRecord], order: list[int]) -> None:
    """Whatever is kept, how often and in which calls: one rating a key, and the last one for every pair."""
    campaign = f"campaign {next(NUMBERS)}"
    made = [
        replace(record, campaign=campaign, key=sha256(f"{campaign} {number}"))
        for number, record in enumerate(made)
    ]
    given_records = [made[number] for number in order if number < len(made)]
    before = rows(store, "ratings")
    for part in (given_records[:4], given_records[4:], given_records):
        store.keep(part, run=LATER)
    last = {pair_of(record): record for record in given_records}
    assert {pair_of(record): record for record in store.ratings(campaign=campaign)} == last
    assert rows(store, "ratings") - before == len({record.key for record in given_records})
    for release in ("A1", "A2"):
        found = store.ratings(campaign=campaign, release=release)
        assert {pair_of(record) for record in found} == {pair for pair in last if pair[0] == release}


def test_keeping_twice_changes_nothing(store: Store) -> None:
    """The same records in the same run, kept again in another order, leave every table as it was."""
    store.keep(RECORDS, run=RUN)
    tables = ("settings", "inputs", "ratings", "runs", "entries")
    before = [rows(store, table) for table in tables]
    store.keep(reversed(RECORDS), run=RUN)
    assert [rows(store, table) for table in tables] == before
    assert store.ratings() == RECORDS


def test_shared_contents_are_kept_once(store: Store) -> None:
    """Sixty records with four settings, ten tests and twelve models leave as many rows of each."""
    store.keep(RECORDS, run=RUN)
    assert rows(store, "settings") == 4
    assert rows(store, "inputs") == 10 + 12


def test_a_rating_belongs_to_several_pairs(store: Store) -> None:
    """Two releases with one result file share a rating; each pair keeps its own names and inputs."""
    first = RECORDS[0]
    other_file = {**first.inputs["candidate"], "file": "model/A9/0.csv"}
    second = replace(first, release="A9", inputs={**first.inputs, "candidate": other_file})
    store.keep([first, second], run=RUN)
    assert rows(store, "ratings") == 1
    assert store.ratings(campaign="KELP-M", release="A1") == [first]
    assert store.ratings(campaign="KELP-M", release="A9") == [second]
    assert store.known([first.key]) == {first.key: second}


def test_numbers_of_a_key_stay(store: Store) -> None:
    """Equal keys mean equal ratings: what comes later under a known key does not replace its numbers."""
    first = RECORDS[0]
    store.keep([first], run=RUN)
    store.keep([replace(first, overall=0.25, samples=7)], run=LATER)
    assert store.ratings() == [first]


def test_a_pair_that_is_rated_anew(store: Store) -> None:
    """A new result file gives the pair a new rating; the old one is still known by its key."""
    old = RECORDS[7]
    new = replace(old, key=sha256("new"), overall=0.875)
    store.keep([old], run=RUN)
    store.keep([new], run=LATER)
    assert store.ratings() == [new]
    assert store.known([old.key, new.key]) == {old.key: old, new.key: new}


def test_a_rating_that_comes_back(store: Store) -> None:
    """When the first result file is put back in a third run, the pair has its first rating again."""
    old = RECORDS[7]
    new = replace(old, key=sha256("new"))
    for started, record in enumerate([old, new, old]):
        store.keep([record], run=replace(RUN, started=RUN.started + timedelta(hours=started)))
    assert store.ratings() == [old]


def test_known_asks_in_chunks(store: Store) -> None:
    """More keys than one question holds, mostly unknown and from a generator: the known ones are found."""
    store.keep(RECORDS, run=RUN)
    keys = [sha256(f"unknown {number}") for number in range(2 * CHUNK)]
    keys[5:5] = [record.key for record in RECORDS[:30]]
    keys += [record.key for record in RECORDS[30:]]
    assert store.known(iter(keys)) == {record.key: record for record in RECORDS}
    assert store.known([]) == {}


def test_records_are_taken_a_chunk_at_a_time(address: str) -> None:
    """When a chunk is asked for, all before it are in the store for others to see; none ahead was taken."""
    seen: list[int] = []

    def produced(reader: Store) -> Iterator[PairRecord]:
        for number in range(2 * CHUNK + 1):
            if number % CHUNK == 0:
                seen.append(len(reader.ratings()))
            yield numbered_record(number)

    with open_store(address) as store, open_store(address) as reader:
        store.keep(produced(reader), run=RUN)
        assert len(reader.ratings()) == 2 * CHUNK + 1
    assert seen == [0, CHUNK, 2 * CHUNK]


def test_an_interrupted_source_keeps_what_came_before(store: Store) -> None:
    """The source of records fails in the second chunk: the first is kept, of the second nothing."""

    def failing() -> Iterator[PairRecord]:
        yield from (numbered_record(number) for number in range(CHUNK + 10))
        raise KeyboardInterrupt("enough")

    with pytest.raises(KeyboardInterrupt, match="enough"):
        store.keep(failing(), run=RUN)
    assert len(store.ratings()) == CHUNK


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"overall": 1.5}, "overall is 1.5, outside 0 to 1"),
        ({"corridor": float("nan")}, "corridor is nan, outside 0 to 1"),
        ({"shift_s": float("inf")}, "shift_s is inf"),
        ({"repeat": "a\0b"}, r"repeat is 'a\\x00b', which is not text that can be stored"),
        ({"channel": "\udcff"}, r"channel is '\\udcff', which is not text that can be stored"),
        ({"inputs": {"reference": {}}}, r"inputs are \['reference'\] instead of candidate and reference"),
        ({"ingredients": {"path": {1, 2}}}, "Object of type set is not JSON serializable"),
    ],
)
def test_a_record_that_cannot_be_kept(store: Store, change: dict[str, Any], sentence: str) -> None:
    """One sentence names the pair and the value; of its chunk nothing is kept."""
    bad = replace(RECORDS[1], **change)
    with pytest.raises(StoreError, match=sentence) as caught:
        store.keep([RECORDS[0], bad], run=RUN)
    assert caught.value.where.startswith("KELP-M / A2 / seat-drop / ")
    assert store.ratings() == []
    assert store.campaigns() == []


def test_releases_campaigns_and_runs(store: Store) -> None:
    """The store tells which campaigns and releases it has, how many pairs, who rated them and when."""
    elsewhere = RunInfo(who="lab", started=datetime(2031, 4, 6, 9, tzinfo=timezone(timedelta(hours=2))))
    new = replace(RECORDS[0], key=sha256("new"))
    store.keep(RECORDS, run=RUN)
    store.keep([new], run=LATER)
    store.keep([replace(RECORDS[1], campaign="KELP-S")], run=elsewhere)
    assert store.campaigns() == ["KELP-M", "KELP-S"]
    assert store.releases("KELP-M") == [
        RatedRelease(name="A1", pairs=20, first_rated=RUN.started, last_rated=LATER.started),
        RatedRelease(name="A2", pairs=20, first_rated=RUN.started, last_rated=RUN.started),
        RatedRelease(name="A3", pairs=20, first_rated=RUN.started, last_rated=RUN.started),
    ]
    assert store.runs("KELP-M") == [RUN, LATER]
    assert store.runs("KELP-S") == [elsewhere]
    assert store.runs("KELP-S")[0].started.utcoffset() == timedelta(0)


def test_an_empty_store(store: Store) -> None:
    """Nothing is found, and nothing to keep leaves nothing."""
    store.keep([], run=RUN)
    assert store.ratings() == []
    assert store.known(["x"]) == {}
    assert store.campaigns() == []
    assert store.releases("KELP-M") == []
    assert store.runs("KELP-M") == []
