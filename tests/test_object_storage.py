"""Objects are listed once, copied once, and never mistaken for others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import CorrelateError
from correlate.files import files_of
from correlate.object_storage import ObjectStorage, ObjectStorageError
from tests.object_server import object_server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.object_server import ObjectServer


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ObjectServer]:
    """Start an empty server."""
    with object_server(tmp_path / "cache", monkeypatch) as started:
        yield started


def test_thousands_of_objects_are_listed_in_pages(server: ObjectServer) -> None:
    """A folder of 2,500 objects takes three pages of a thousand, and every object is found."""
    server.objects = {f"tests/{number:04}/a.csv": b"" for number in range(2500)}
    server.objects["tests/2400/a.csv"] = b"late"
    found = ObjectStorage().matches("s3://bucket/tests/24*/a.csv")
    assert len(found) == 100
    assert [path.read_bytes() for path in found if path.stat().st_size] == [b"late"]
    assert server.listed == ["tests/"] * 3
    assert len(server.fetched) == 100


def test_folders_and_files_match_as_on_a_disk(server: ObjectServer) -> None:
    """A pattern matches whole parts of a path; a folder comes with everything below it."""
    server.objects = {
        "tests/T1/T1.mme": b"one",
        "tests/T1/Channel/T1.001": b"1",
        "tests/T2/T2.mme": b"two",
        "tests/other/T3.mme": b"three",
        "tests/T1/": b"",
        "tests/T1": b"",
    }
    found = ObjectStorage().matches("s3://bucket/tests/T?")
    assert [path.name for path in found] == ["T1", "T2"]
    assert [file.relative_to(found[0]).as_posix() for file in files_of(found[0])] == [
        "Channel/T1.001",
        "T1.mme",
    ]
    (named,) = ObjectStorage().matches("s3://bucket/tests/T1/T1.mme")
    assert (named.parent / "Channel" / "T1.001").read_bytes() == b"1"


def test_nothing_is_fetched_twice_and_a_change_is_fetched_alone(server: ObjectServer) -> None:
    """The next program lists again and fetches only what has another tag; both copies stay as they were."""
    server.objects = {"tests/a.csv": b"one", "tests/b.csv": b"two"}
    before = ObjectStorage().matches("s3://bucket/tests/*.csv")
    server.forget()
    assert ObjectStorage().matches("s3://bucket/tests/*.csv") == before
    assert (server.listed, server.fetched) == (["tests/"], [])
    server.objects["tests/b.csv"] = b"TWO"
    storage = ObjectStorage()
    after = storage.matches("s3://bucket/tests/*.csv")
    assert server.fetched == ["tests/b.csv"]
    assert [path.read_bytes() for path in (*before, *after)] == [b"one", b"two", b"one", b"TWO"]
    server.objects["tests/b.csv"] = b"2"
    assert storage.matches("s3://bucket/tests/*.csv") == after, "what was listed once stays the same"
    storage.look_again()
    assert storage.matches("s3://bucket/tests/*.csv")[1].read_bytes() == b"2"


def test_a_changed_or_incomplete_copy_is_fetched_again(server: ObjectServer) -> None:
    """Bytes that are not those that were fetched are never read."""
    server.objects = {"tests/a.csv": b"one", "tests/b.csv": b"two"}
    first, second = ObjectStorage().matches("s3://bucket/tests/*.csv")
    first.write_bytes(b"ONE")
    second.unlink()
    found = ObjectStorage().matches("s3://bucket/tests/*.csv")
    assert [path.read_bytes() for path in found] == [b"one", b"two"]


def test_a_copy_that_was_only_touched_is_not_fetched_again(server: ObjectServer) -> None:
    """Another time with the same bytes, as after a restored backup, is decided by the hash."""
    server.objects = {"tests/a.csv": b"one"}
    (first,) = ObjectStorage().matches("s3://bucket/tests/*.csv")
    first.write_bytes(b"one")
    server.forget()
    assert ObjectStorage().matches("s3://bucket/tests/*.csv") == [first]
    assert server.fetched == []


def test_a_server_that_is_down_is_one_sentence(server: ObjectServer, monkeypatch: pytest.MonkeyPatch) -> None:
    """The address and the remedy are named; no detail of the connection is."""
    monkeypatch.setattr("correlate.object_storage._RETRY", {"max_retries": 0})
    server.stop()
    with pytest.raises(ObjectStorageError) as refused:
        ObjectStorage().matches("s3://bucket/tests/*.csv")
    assert str(refused.value) == (
        "s3://bucket/tests: object storage cannot be reached, so this cannot be listed; check network, "
        "endpoint, region and credentials, then try again"
    )


def test_what_is_not_permitted_is_one_sentence(server: ObjectServer) -> None:
    """A folder that may not be listed, and an object that may not be fetched, are named."""
    server.objects = {"tests/a.csv": b"one", "tests/b.csv": b"two"}
    server.forbidden = ("tests/b",)
    with pytest.raises(
        ObjectStorageError, match=r"s3://bucket/tests/b\.csv: object storage refuses access.* fetched; check"
    ):
        ObjectStorage().matches("s3://bucket/tests/*.csv")
    server.forbidden = ("tests/",)
    with pytest.raises(ObjectStorageError, match=r"s3://bucket/tests: .* refuses access.* listed; check"):
        ObjectStorage().matches("s3://bucket/tests/*.csv")


def test_a_bucket_that_is_not_there_is_one_sentence(
    server: ObjectServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An absent bucket is not taken for an empty one; an empty folder is one."""
    monkeypatch.setenv("CORRELATE_OBJECT_STORAGE", "s3://absent s3://bucket")
    with pytest.raises(ObjectStorageError, match=r"s3://absent/tests: .* cannot be listed, .* not exist"):
        ObjectStorage().matches("s3://absent/tests/*.csv")
    assert ObjectStorage().matches("s3://bucket/tests/*.csv") == []
    assert server.listed == ["tests/"]


def test_an_address_that_nobody_allowed_is_not_asked_for(
    server: ObjectServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A campaign of somebody else decides nothing: without permission no request is made."""
    monkeypatch.setenv("CORRELATE_OBJECT_STORAGE", "s3://bucket/mine s3://other")
    with pytest.raises(
        CorrelateError, match=r"s3://bucket/tests/\*: this address is not among .* server\.toml"
    ):
        ObjectStorage().matches("s3://bucket/tests/*")
    with pytest.raises(CorrelateError, match="not among those"):
        ObjectStorage().result("s3://bucket/results", "a.csv")
    assert (server.listed, server.fetched) == ([], [])


def test_objects_larger_than_the_limit_are_not_fetched(
    server: ObjectServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sizes of the listing are compared before the first byte is asked for."""
    monkeypatch.setenv("CORRELATE_MOST_MB", "1")
    server.objects = {"tests/T1/a": bytes(600_000), "tests/T1/b": bytes(600_000)}
    with pytest.raises(
        CorrelateError, match=r"T1: it has 2 MB, but at most 1 MB are fetched; .* CORRELATE_MOST_MB"
    ):
        ObjectStorage().matches("s3://bucket/tests/T1")
    assert server.fetched == []


@pytest.mark.parametrize("key", ["tests/T1/../../x", "tests/T1/a\\b", "tests/T1//a", "tests/T1/a.csv/b"])
def test_keys_that_are_no_names_of_files_are_refused(server: ObjectServer, key: str) -> None:
    """No key leads out of the folder of the copy, and no object is a folder at once."""
    server.objects = {"tests/T1/a.csv": b"one", key: b"two"}
    with pytest.raises(ObjectStorageError, match="not possible for a file"):
        ObjectStorage().matches("s3://bucket/tests/T1")
    assert server.fetched == []


def test_the_mark_of_a_finished_run_is_copied_with_its_result(server: ObjectServer) -> None:
    """The log beside a result says whether its run ended, so it belongs to the copy."""
    server.objects = {"B1/push.csv": b"1", "B1/push.log": b"normal end", "B1/other.csv": b"2"}
    path = ObjectStorage().result("s3://bucket/B1", "push.csv", beside=lambda one: one.with_suffix(".log"))
    assert sorted(file.name for file in path.parent.iterdir()) == ["push.csv", "push.log"]


def test_the_oldest_copies_make_room(server: ObjectServer, monkeypatch: pytest.MonkeyPatch) -> None:
    """More than the limit is not kept, except what was used a moment ago."""
    monkeypatch.setenv("CORRELATE_MOST_COPIES_MB", "1")
    server.objects = {f"tests/{name}": name.encode() * 600_000 for name in "abc"}
    storage = ObjectStorage()
    (first,) = storage.matches("s3://bucket/tests/a")
    (second,) = storage.matches("s3://bucket/tests/b")
    assert first.exists()
    monkeypatch.setattr("correlate.object_storage._IN_USE_S", -1)
    (third,) = storage.matches("s3://bucket/tests/c")
    assert [path.exists() for path in (first, second, third)] == [False, False, True]
