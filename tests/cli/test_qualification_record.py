"""``correlate qualify --record``: what is written, where its statements come from, and refusals."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.selfcheck import KIT
from demo_pairs.build import HERE
from tests.laboratory.books import REGISTER
from tests.reference.package.key_files import PASSPHRASE

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

DATA = HERE / "examples" / "thorax" / "test" / "KELPM_TI01"
THORAX = (DATA, "--device", "adult male, 50th", "--test", "thorax")
CONDITIONS = """\
operator = "operator 2"
soak_hours = 6
[[sensor]]
channel = "??PEND??????ACX?"
serial = "AC-17"
calibrated = 2023-11-02
due = 2024-11-02
"""


@pytest.fixture
def passphrase(monkeypatch: pytest.MonkeyPatch) -> None:
    """Set the passphrase for programs."""
    monkeypatch.setenv("CORRELATE_KEY_PASSPHRASE", PASSPHRASE)


def text_of(page: Path) -> str:
    """Return what a page holds."""
    return page.read_text(encoding="utf-8")


def test_the_record_has_file_options_and_headers(correlate: Run, tmp_path: Path) -> None:
    """Options go before the file of conditions, and both before the header; the table is printed too."""
    page, conditions = tmp_path / "record.html", tmp_path / "conditions.toml"
    conditions.write_text(CONDITIONS, encoding="utf-8")
    outcome = correlate(
        "qualify", *THORAX, "--record", page, "--conditions", conditions, "--soak", 7.5, "--temperature", 22
    )
    assert outcome.code == 0
    assert "4 of 4" in outcome.out
    assert outcome.err == f"written: {page}\n"
    text = text_of(page)
    for words in ("operator 2", "7.5 h", "44 %", "KELP-M KM-T-004", "AC-17", "2024-11-02", "Not signed."):
        assert words in text, words
    assert "The temperature is stated as 22 °C, and the header of the test says 21.2 °C." in text


def test_the_register_names_dummy_and_part(correlate: Run, tmp_path: Path) -> None:
    """--register, or else the register of --keep; --dummy is the serial number on the record."""
    register = tmp_path / "laboratory.toml"
    register.write_text(REGISTER, encoding="utf-8")
    pages = [tmp_path / "one.html", tmp_path / "two.html"]
    assert correlate("qualify", *THORAX, "--record", pages[0], "--register", register).code == 0
    assert correlate("qualify", *THORAX, "--record", pages[1], "--keep", register).code == 0
    for page in pages:
        assert "KELP-M KM-W-002 B" in text_of(page)
    correlate("qualify", *THORAX, "--record", pages[0], "--dummy", "KM-W-003", "--date", "2025-01-02")
    assert "KM-W-003" in text_of(pages[0])
    assert "the date of the test is stated as 2025-01-02" in text_of(pages[0]).replace("The date", "the date")


@pytest.mark.usefixtures("passphrase")
def test_a_signed_record_is_verified_and_a_changed_one_refused(correlate: Run, tmp_path: Path) -> None:
    """The record names the key; verify names the holder, also as JSON; one byte more is refused."""
    page, key = tmp_path / "record.html", tmp_path / "lab.key"
    correlate("key", key, "--name", "lab manager", "--organisation", "Kelpwick")
    outcome = correlate("qualify", *THORAX, "--record", page, "--sign", key)
    assert outcome.err == f"written: {page}\nwritten: {page}.signature.json\n"
    assert "Signed by lab manager of Kelpwick with key" in text_of(page)
    seen = correlate("verify", page, "--key", f"{key}.pub")
    assert seen.code == 0
    assert "signed by lab manager of Kelpwick" in seen.out
    assert "the key is trusted" in seen.out
    found = json.loads(correlate("verify", page, "--json").out)
    assert found["bytes"] == page.stat().st_size
    assert found["signed_by"] in seen.out
    page.write_bytes(page.read_bytes() + b"\n")
    refused = correlate("verify", page)
    assert (refused.code, refused.out) == (2, "")
    assert "do not use this document" in refused.err
    Path(f"{page}.signature.json").unlink()
    unsigned = correlate("verify", page)
    assert (unsigned.code, "not signed" in unsigned.out) == (0, True)
    assert correlate("verify", page, "--require-signature").code == 1


def test_a_test_outside_is_recorded_and_ends_with_1(correlate: Run, tmp_path: Path) -> None:
    """The record says so, and the exit code is that of the comparison."""
    page = tmp_path / "record.html"
    outcome = correlate(
        "qualify", KIT / "windows-knee.csv", "--device", "adult male, 50th", "--test", "knee impact",
        "--record", page, "--json",
    )  # fmt: skip
    assert outcome.code == 1
    assert "Quantities: 1 of 2 outside." in text_of(page)
    assert outcome.out.startswith("{")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--record", "record.doc"), "let the name end in .html or .pdf"),
        (
            (DATA, "--record", "record.html"),
            "record.html: a record is about one test, and 2 are given; write one",
        ),
        (("--operator", "me"), "belong to --record"),
        (("--sign", "lab.key"), "belong to --record"),
        (("--record", "record.html", "--sign", "absent.key"), "absent.key: there is no such file"),
        (("--date", "2025-01-02"), "--dummy and --date belong to --keep or --record"),
        (("--record", "record.html", "--humidity", 140), "'humidity_percent' is 140.0: input should be less"),
        (("--record", "record.html", "--conditions", "absent.toml"), "absent.toml: cannot be read"),
        (("--record", "record.html", "--register", "absent.toml"), "absent.toml"),
    ],
)
def test_what_cannot_become_a_record_is_refused(
    correlate: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[object, ...], words: str
) -> None:
    """Exit code 2, no traceback, and no record."""
    monkeypatch.chdir(tmp_path)
    outcome = correlate("qualify", *THORAX, *arguments)
    assert outcome.code == 2
    assert words in outcome.err
    assert "Traceback" not in outcome.err
    assert list(tmp_path.iterdir()) == []
