"""Writers at the same time lose nothing, and a reader beside them sees whole ratings."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import event

from correlate.database import writing
from correlate.store import RunInfo, aggregates, open_store
from tests.store.writer import BATCH, RUN, numbered_record

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.evaluation.record import PairRecord
    from correlate.store import Store
    from tests.store.writer import Writer

BY_KEY = {record.key: record for record in map(numbered_record, range(300))}


def of_known_numbers(records: list[PairRecord]) -> bool:
    """Tell whether each record is whole and none comes twice."""
    return all(BY_KEY[record.key] == record for record in records) and len(records) == len(
        {record.key for record in records}
    )


def test_two_programs_lose_nothing(address: str, writers: tuple[Writer, Writer]) -> None:
    """Two programs make one new store together and write into it, a third of the ratings both.

    They go in opposite order. Both end well, every rating of either is there, once, and whoever reads
    meanwhile sees whole ones.
    """
    one, other = writers
    with ThreadPoolExecutor(2) as waiting:
        one.order(address=address, numbers=list(range(200)))
        other.order(address=address, numbers=list(range(299, 99, -1)))
        answers = [waiting.submit(one.answer), waiting.submit(other.answer)]
        with open_store(address) as store:
            seen = read_until_done(store, answers)
            assert [answer.result() for answer in answers] == [{"exit": 0, "kept": 8}] * 2
            assert {record.key: record for record in store.ratings()} == BY_KEY
            assert store.known(BY_KEY) == BY_KEY
            with writing(store._engine) as connection:
                assert aggregates.recomputed(connection)
    assert seen == sorted(seen)


def read_until_done(store: Store, answers: list[Future[dict[str, int]]]) -> list[int]:
    """Read again and again while others write, and return how many ratings there were each time."""
    seen = []
    while not all(answer.done() for answer in answers):
        found = store.ratings()
        assert of_known_numbers(found)
        seen.append(len(found))
    return seen


@pytest.mark.parametrize(
    ("numbers", "second"),
    [(range(16 * BATCH), "analyst"), (list(range(BATCH)) * 16, RUN.who)],
    ids=["new ratings in two runs", "known ratings in one run"],
)
def test_opposite_orders_do_not_block_each_other(
    address: str, writers: tuple[Writer, Writer], numbers: Sequence[int], second: str
) -> None:
    """Two programs keep the same batches at once, one of them each batch backwards; both end well."""
    backwards = [
        numbers[start + BATCH - 1 - place]
        for start in range(0, len(numbers), BATCH)
        for place in range(BATCH)
    ]
    for writer, order, who in zip(writers, (list(numbers), backwards), (RUN.who, second), strict=True):
        writer.order(address=address, numbers=order, who=who)
    assert [writer.answer() for writer in writers] == [{"exit": 0, "kept": 16}] * 2
    with open_store(address) as store:
        assert {record.key for record in store.ratings()} == {
            numbered_record(number).key for number in numbers
        }
        assert {run.who for run in store.runs("KELP-M")} == {RUN.who, second}


def test_shared_rows_are_written_in_one_order(store: Store) -> None:
    """Settings, inputs and ratings go in sorted, in whatever order the records come.

    Otherwise two writers could each hold a row that the other waits for, which happens too seldom to be left
    to chance.
    """
    written: list[tuple[str, list[bytes]]] = []

    @event.listens_for(store._engine, "before_cursor_execute")
    def note(*call: Any) -> None:
        words, parameters = call[2].split(), call[3]
        if words[0] == "INSERT" and words[2] in {"settings", "inputs", "ratings"}:
            written.append((words[2], [row[0] for row in parameters]))

    for order in (range(BATCH), range(BATCH - 1, -1, -1)):
        store.keep(map(numbered_record, order), run=RUN)
    assert [table for table, _ in written] == ["settings", "inputs", "ratings"] * 2
    assert written[:3] == written[3:]
    assert all(keys == sorted(keys) for _, keys in written)


def test_threads_share_a_store(store: Store) -> None:
    """Four threads keep through one open store, two runs each twice; nothing is lost, nothing doubled."""
    records = [numbered_record(number) for number in range(200)]
    runs = [RUN, RunInfo(who="analyst", started=RUN.started)]
    with ThreadPoolExecutor(4) as pool:
        jobs = [
            pool.submit(store.keep, records[:: (-1) ** turn], run=runs[turn % 2]) for turn in (0, 1, 2, 3)
        ]
        for job in jobs:
            job.result()
    assert store.known(record.key for record in records) == {record.key: record for record in records}
    assert len(store.ratings()) == 200
    assert set(store.runs("KELP-M")) == set(runs)
