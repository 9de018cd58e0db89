"""Aggregates equal those made anew from ratings and evidence, after whatever was saved."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.database import writing
from correlate.evaluation import CaseEvidence, ChannelEvidence
from correlate.store import aggregates, open_store
from correlate.store.scored import current_pairs
from tests.store.writer import RUN, numbered_record, sha256

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign.scoring import Rated
    from correlate.evaluation.record import PairRecord
    from correlate.store import Store

NAMES = st.tuples(st.sampled_from("AB"), st.sampled_from("xy"), st.sampled_from("12"), st.sampled_from("rst"))
RECORDS = st.lists(st.tuples(NAMES, st.integers(0, 3)), max_size=6)
EVIDENCE = st.tuples(st.sampled_from("AB"), st.sampled_from("xy"), st.sets(st.sampled_from("rst")))
STEP = st.one_of(
    st.tuples(st.just("keep"), RECORDS, st.integers(0, 2)),
    st.tuples(st.just("evidence"), EVIDENCE),
    st.tuples(st.just("block"), EVIDENCE, RECORDS, st.integers(0, 2)),
)


def record(names: tuple[str, str, str, str], value: int) -> PairRecord:
    """Return a record of a pair with one of a few values."""
    release, load_case, channel, repeat = names
    plain = {"corridor": {"reference_peak": value + 0.1}, "also": {"m": {"value": value / 7, "reason": ""}}}
    named = replace(numbered_record(0), release=release, load_case=load_case, channel=channel, repeat=repeat)
    key = sha256(f"{release} {channel} {value}")
    return replace(named, key=key, overall=value / 3, ingredients=plain)


def evidence_of(release: str, load_case: str, pairs: set[str]) -> CaseEvidence:
    """Return evidence by which some repeats of a channel are part of its number."""
    rated = tuple(sorted(pairs))
    one = ChannelEvidence(channel="1", expected=2, found=rated, rated=rated, missing={}, pairs=rated)
    return CaseEvidence(
        campaign="KELP-M", release=release, load_case=load_case, state="".join(rated), channels=(one,)
    )


def take(store: Store, step: tuple[Any, ...]) -> None:
    """Save what a step says, in one of three runs."""
    kind, *told = step
    run = replace(RUN, started=RUN.started + timedelta(hours=told[-1])) if kind != "evidence" else RUN
    if kind == "keep":
        store.keep([record(*one) for one in told[0]], run=run)
    elif kind == "evidence":
        store.save_evidence([evidence_of(*told[0])])
    else:
        release, load_case, _ = told[0]
        new = [record((release, load_case, *names[2:]), value) for names, value in told[1]]
        store.keep_block(new, evidence_of(*told[0]), run=run)


def parts(pair: Rated) -> tuple[Any, ...]:
    """Return what a number needs of a pair."""
    peak, also = pair.ingredients["corridor"]["reference_peak"], pair.ingredients["also"]["m"]["value"]
    return pair.release, pair.load_case, pair.channel, pair.repeat, pair.overall, peak, also


def check(store: Store) -> None:
    """Compare every derived row, and every way to read them, with ratings and evidence."""
    with writing(store._engine) as connection:
        assert aggregates.recomputed(connection)
    every = store.ratings(campaign="KELP-M")
    pairs, digests = store.number_pairs("KELP-M")
    expected = current_pairs(every, store.evidence("KELP-M"))
    assert sorted(map(parts, pairs)) == sorted(map(parts, expected))
    blocks = store.blocks("KELP-M")
    assert sum(one.pairs for one in blocks) == len(every)
    assert sum(one.counted for one in blocks) == len(pairs)
    assert digests == {(one.release, one.load_case): one.digest for one in blocks if one.pairs}
    runs = store.runs("KELP-M")
    assert store.last_run("KELP-M") == (runs[-1] if runs else None)


@settings(max_examples=25, deadline=None)
@given(steps=st.lists(STEP, max_size=6))
def test_aggregates_follow_everything_that_is_saved(
    steps: list[tuple[Any, ...]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Ratings of old and new runs, ratings that are replaced, and evidence come in any order, in SQLite."""
    with open_store(tmp_path_factory.mktemp("store") / "ratings.sqlite") as store:
        for step in steps:
            take(store, step)
        check(store)


@pytest.mark.parametrize("before", ["another pair", "another number"])
def test_rows_derived_by_a_worker_are_not_used_beside_other_ratings(tmp_path: Path, before: str) -> None:
    """A block with a pair from earlier, or a rating whose number the store has already, is derived anew."""
    new = record(("A", "x", "1", "r"), 1)
    other = record(("A", "x", "1", "s"), 2) if before == "another pair" else replace(new, overall=0.75)
    with open_store(tmp_path / "ratings.sqlite") as store:
        if before == "another pair":
            store.keep_block([other], evidence_of("A", "x", {"r", "s"}), run=RUN)
        else:
            store.keep([replace(other, campaign="KELP-N")], run=RUN)
        store.keep_block([new], evidence_of("A", "x", {"r", "s"}), run=RUN)
        check(store)
