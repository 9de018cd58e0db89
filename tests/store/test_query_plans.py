"""No question of pages and commands reads a whole table that grows with the ratings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import event, insert

from correlate.evaluation.evidence import CaseEvidence
from correlate.store import Store, open_store
from correlate.store.ratings import BlockRows
from correlate.store.tables import EVIDENCE
from tests.store.test_ceilings import ONE as CEILING
from tests.store.writer import RUN, numbered_record

if TYPE_CHECKING:
    from collections.abc import Iterator

GROWING = {"inputs", "ratings", "entries", "present", "aggregates", "evidence"}
"""Tables with rows for pairs, channels or load cases; one row a run, note or sign-off is few."""

OTHERS = 2_000
"""Ratings of other campaigns: so many that reading them all costs more than looking up a few."""

Statement = tuple[str, Any]


@pytest.fixture
def filled(address: str) -> Iterator[Store]:
    """Open a store with a small campaign among many others."""
    with open_store(address) as store:
        for first in range(0, OTHERS, 200):
            others = [numbered_record(number + 100) for number in range(first, first + 200)]
            store.keep([replace(one, campaign=f"other {first}") for one in others], run=RUN)
        store.keep([numbered_record(number) for number in range(6)], run=RUN)
        names = {"release": "A1", "load_case": "head-drop", "state": "", "content": "[]"}
        rows = [names | {"campaign": f"more {number}"} for number in range(2_000)]
        with store._engine.begin() as connection:
            connection.execute(insert(EVIDENCE), rows)
            connection.exec_driver_sql("ANALYZE")
        yield store


class Noted:
    """A store that records the names of the methods that are called.

    Attributes
    ----------
    called
        Their names.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self.called: set[str] = set()

    def __getattr__(self, name: str) -> Any:
        """Return an attribute of the store, and record its name."""
        self.called.add(name)
        return getattr(self._store, name)


def ask_everything(store: Any) -> None:
    """Ask each question that concerns one campaign, and write what people and commands write."""
    record, one, case = numbered_record(0), {"campaign": "KELP-M", "release": "A1"}, "head-drop"
    store.campaigns()
    store.releases("KELP-M")
    store.runs("KELP-M")
    store.last_run("KELP-M")
    store.blocks("KELP-M")
    store.known([record.key, "none"])
    store.ratings(campaign="KELP-M")
    store.ratings(**one)
    store.ratings(**one, load_case=case)
    store.rated_pairs("KELP-M")
    store.rated_pairs("KELP-M", release="A1", load_case=case, channel="channel 0")
    store.rated_pairs("KELP-M", load_case=case)
    store.rated_keys("KELP-M", release="A1")
    store.rated_repeats("KELP-M")
    store.number_pairs("KELP-M")
    store.number_pairs("KELP-M", release="A1", load_case=case, channel="channel 0")
    store.number_pairs_at("KELP-M", releases=["A1", "A2"], places=[(case, "channel 0")])
    store.ratings_sha256(**one)
    store.evidence("KELP-M")
    store.evidence("KELP-M", release="A1", load_case=case)
    store.save_findings("KELP-M", case, state="", content=[])
    store.findings("KELP-M")
    store.keep_ceilings([CEILING])
    store.ceilings("KELP-M")
    store.add_note("fine", campaign="KELP-M", who="lab")
    store.notes(**one)
    store.sign_off(**one, role="lab", date=date(2031, 1, 1), who="lab")
    store.sign_offs(**one)
    evidence = CaseEvidence(campaign="KELP-M", release="A1", load_case=case, state="", channels=())
    later = replace(RUN, started=RUN.started + timedelta(days=1))
    store.keep([record], run=RUN)
    store.keep_block([record], evidence, run=later)
    store.keep_rows([BlockRows.of([record], evidence)], run=later)
    store.save_evidence([evidence])


def asked(store: Store) -> list[Statement]:
    """Return the SQL statements of these queries, without insertions of given values.

    Of an insertion SQLite also plans how it would look for references to the new row, which it does only
    while a reference without a row is pending.
    """
    found: list[Statement] = []

    @event.listens_for(store._engine, "before_cursor_execute")
    def note(*call: Any) -> None:
        words, parameters, many = call[2], call[3], call[5]
        if words.split()[0] in {"SELECT", "UPDATE"} or "FROM" in words.split():
            found.append((words, parameters[0] if many else parameters))

    ask_everything(store)
    event.remove(store._engine, "before_cursor_execute", note)
    return found


def whole_tables(store: Store, statement: Statement) -> Iterator[str]:
    """Yield the growing tables that the database reads from one end to the other for a statement."""
    words, parameters = statement
    is_server = store._engine.dialect.name == "postgresql"
    with store._engine.connect() as connection:
        plan = connection.exec_driver_sql(f"EXPLAIN {'' if is_server else 'QUERY PLAN '}{words}", parameters)
        lines = [str(row[-1]).strip(" ->") for row in plan]
        connection.rollback()
    for line in lines:
        table = ""
        if line.startswith("Seq Scan on "):
            table = line.split()[3]
        elif line.startswith("SCAN "):
            table = line.split()[1]
        if table in GROWING:
            yield f"{table}: {words}"


def test_no_question_reads_a_whole_table(filled: Store) -> None:
    """In the database's own plan, every table that grows is entered through an index."""
    statements = asked(filled)
    assert len(statements) > 15
    assert [found for one in statements for found in whole_tables(filled, one)] == []


def test_every_question_is_asked(filled: Store) -> None:
    """Every method of the store that reads or writes is called, so that a new one is checked as well."""
    noted = Noted(filled)
    ask_everything(noted)
    methods = {name for name, one in vars(Store).items() if callable(one) and not name.startswith("_")}
    assert noted.called == methods - {"close"}


def test_a_question_that_reads_a_whole_table_is_noticed(filled: Store) -> None:
    """The test sees a plan without an index."""
    with filled._engine.connect() as connection:
        is_server = connection.dialect.name == "postgresql"
    shares: Statement = "SELECT sum(overall) FROM ratings", {} if is_server else ()
    assert len([*whole_tables(filled, shares)]) == 1
