"""Content in few bytes: what is read is what was written, and damage is noticed."""

from __future__ import annotations

import json
import zlib
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import StoreError
from correlate.limits import LARGEST_RECORD
from correlate.store import open_store
from correlate.store.packing import INPUT_WORDS, RATING_WORDS, hash_bytes, hash_text, packed, unpacked
from tests.store.writer import RUN, numbered_record, sha256

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.store import Store

TEXT = st.text(st.characters(exclude_categories=["Cs"]))
WORDS = st.sampled_from([b"", INPUT_WORDS, RATING_WORDS])


@given(content=TEXT, words=WORDS)
def test_a_text_comes_back(content: str, words: bytes) -> None:
    """Whatever the text, and whichever words are known of it."""
    assert unpacked(packed(content, words), words) == content


def test_words_of_the_format_never_change() -> None:
    """Stores hold texts that only the same words can restore: their checksums are written down here."""
    assert zlib.adler32(INPUT_WORDS) == 1749072276
    assert zlib.adler32(RATING_WORDS) == 4074695397


def test_usual_content_becomes_small() -> None:
    """What ratings usually contain takes less than half of what it takes without known words."""
    usual = json.dumps(
        {
            "corridor": {"inner_half_width": 0.0542, "outer_half_width": 0.542, "reference_peak": 1.08},
            "phase": {"candidate_dead": False, "correlation": 0.9795785, "correlation_unshifted": 0.9102764},
        },
        separators=(",", ":"),
    )
    assert len(packed(usual, RATING_WORDS)) < len(packed(usual)) / 2


@pytest.mark.parametrize(
    "damage",
    [lambda one: one[:-1], lambda one: one + b"x", lambda one: one[:9] + bytes([one[9] ^ 1]) + one[10:]],
)
def test_damaged_content_is_refused(damage: object) -> None:
    """A byte less, a byte more, a changed bit: none passes for content."""
    assert callable(damage)
    with pytest.raises(ValueError, match=r"."):
        unpacked(damage(packed('{"score":0.5}', RATING_WORDS)), RATING_WORDS)


def test_content_that_unpacks_to_more_than_records_have_is_refused() -> None:
    """A few bytes of a stranger do not fill the memory."""
    stream = zlib.compressobj()
    part = bytes(2**20)
    small = b"".join(stream.compress(part) for _ in range(LARGEST_RECORD // 2**20 + 1)) + stream.flush()
    with pytest.raises(ValueError, match="larger than"):
        unpacked(small)


@given(name=TEXT | st.text("0123456789abcdef", min_size=62, max_size=66))
def test_a_name_comes_back(name: str) -> None:
    """A hash, and any other text, come back; two names are never the same bytes."""
    assert hash_text(hash_bytes(name)) == name


def test_a_hash_takes_half_of_its_digits() -> None:
    """33 bytes in place of 64."""
    assert len(hash_bytes(sha256("any"))) == 33


@pytest.mark.parametrize("content", ["a text", 10**12])
def test_content_of_another_type_is_refused(tmp_path: Path, content: object) -> None:
    """SQLite holds any type in any column: neither text nor a number is taken for bytes."""
    with open_store(tmp_path / "ratings.sqlite") as store:
        store.keep([numbered_record(0)], run=RUN)
        with store._engine.begin() as connection:
            connection.exec_driver_sql("UPDATE ratings SET ingredients = ?", (content,))
        with pytest.raises(StoreError, match="the store is damaged; restore it from a backup"):
            store.ratings()


@pytest.mark.parametrize("table", ["ratings.ingredients", "inputs.content"])
def test_a_damaged_row_is_one_sentence(store: Store, table: str) -> None:
    """It names the store and the remedy; nothing is returned."""
    store.keep([numbered_record(0)], run=RUN)
    name, column = table.split(".")
    with store._engine.begin() as connection:
        damaged = r"'\x02aa'::bytea" if connection.dialect.name == "postgresql" else "x'02aa'"
        connection.exec_driver_sql(f"UPDATE {name} SET {column} = {damaged}")  # noqa: S608
    with pytest.raises(StoreError, match="the store is damaged; restore it from a backup") as refused:
        store.ratings()
    assert refused.value.where == store.place
