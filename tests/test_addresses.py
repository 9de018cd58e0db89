"""Addresses of object storage: what is one, what is refused, and how copies are named."""

from __future__ import annotations

import pytest

from correlate.addresses import address_of, addressed, name_copies
from correlate.errors import FormatError
from correlate.signal import Source


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("http://bucket/tests", "begins with none of s3://, gs://, az://"),
        ("file:///etc/passwd", "begins with none of"),
        ("s3://user:geheim@bucket/tests", "contain no user names, keys or queries"),
        ("s3://bucket/tests?X-Amz-Signature=geheim", "contain no user names, keys or queries"),
        ("s3://bucket/../other", "'..'"),
        ("s3://bucket/tests//a", "empty part"),
        ("s3://bucket/**/a", "'**'"),
        ("s3:///tests", "names no valid bucket"),
    ],
)
def test_what_is_no_address_of_objects_is_refused(text: str, said: str) -> None:
    """Other protocols, secrets and odd paths are refused, and a secret is not repeated."""
    with pytest.raises(ValueError, match=r".") as refused:
        address_of(text)
    assert said in str(refused.value)
    assert "geheim" not in str(refused.value)


def test_an_address_lies_within_its_folder_and_not_within_one_of_a_longer_name() -> None:
    """The folder 'tests' contains 'tests/a', and 'tests-2' is another."""
    place = address_of("s3://bucket/tests")
    assert address_of("s3://bucket/tests/a").is_within(place)
    assert address_of("s3://bucket/tests").is_within(place)
    assert not address_of("s3://bucket/tests-2/a").is_within(place)
    assert not address_of("gs://bucket/tests/a").is_within(place)
    assert not address_of("s3://bucket").is_within(place)


def test_people_are_shown_the_address_and_not_the_copy() -> None:
    """Errors and sources name a copy in the cache folder by the address of the object."""
    name_copies("/home/kim/.cache/correlate/objects")
    copy = f"/home/kim/.cache/correlate/objects/{'0a' * 16}/copy/s3/bucket/tests/T 1.csv"
    assert addressed(copy) == "s3://bucket/tests/T 1.csv"
    assert str(FormatError("the file is empty", where=copy)) == "s3://bucket/tests/T 1.csv: the file is empty"
    assert Source(copy).file == "s3://bucket/tests/T 1.csv"
    assert addressed("/home/kim/project/T1.csv") == "/home/kim/project/T1.csv"
