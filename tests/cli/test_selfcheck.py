"""``correlate selfcheck``: exit codes, record, a kit of one's own, a damaged kit."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

from correlate.selfcheck import KIT
from tests.reference.package.key_files import PASSPHRASE

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import pytest

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


def test_everything_agrees_and_the_record_is_written(correlate: Run, tmp_path: Path) -> None:
    """Exit code 0, every function in the output, and a page that names the person."""
    page = tmp_path / "record.html"
    outcome = correlate("selfcheck", "--record", page, "--by", "lab manager")
    assert outcome.code == 0
    assert "numbers agree within tolerance" in outcome.out
    assert f"written: {page}" in outcome.err
    assert "lab manager" in page.read_text(encoding="utf-8")


def test_json_alone_goes_to_the_output(correlate: Run, tmp_path: Path) -> None:
    """The output is one JSON object, also where a record is written."""
    outcome = correlate("selfcheck", "--json", "--record", tmp_path / "record.html")
    assert json.loads(outcome.out)["agrees"] is True
    assert "written:" in outcome.err


def test_a_record_is_signed_and_verified(
    correlate: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The record names the key, verify the holder; a key without a record is refused."""
    monkeypatch.setenv("CORRELATE_KEY_PASSPHRASE", PASSPHRASE)
    page, key = tmp_path / "record.html", tmp_path / "lab.key"
    correlate("key", key, "--name", "quality manager", "--organisation", "Kelpwick")
    correlate("selfcheck", "--record", page, "--sign", key)
    assert "quality manager of Kelpwick with key" in page.read_text(encoding="utf-8")
    assert "signed by quality manager of Kelpwick" in correlate("verify", page, "--key", f"{key}.pub").out
    refused = correlate("selfcheck", "--sign", key)
    assert (refused.code, "--sign belongs to --record" in refused.err) == (2, True)


def test_a_broken_function_is_named_and_the_exit_code_is_1(
    correlate: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The function is named with the reason; the record is written all the same."""
    monkeypatch.setattr("correlate.selfcheck.functions.femur_force", None)
    page = tmp_path / "record.html"
    outcome = correlate("selfcheck", "--record", page)
    assert outcome.code == 1
    assert "do not agree: femur force." in outcome.out
    assert "does not agree: femur force, legs, compression: it ended with TypeError" in outcome.out
    assert "does not agree" in page.read_text(encoding="utf-8")


def test_a_damaged_kit_is_one_sentence_and_writes_nothing(correlate: Run, tmp_path: Path) -> None:
    """Exit code 2, the file and the remedy, no traceback, no record."""
    kit = shutil.copytree(KIT, tmp_path / "kit")
    (kit / "filter-10kHz.csv").unlink()
    outcome = correlate("selfcheck", "--kit", kit, "--record", tmp_path / "record.html")
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.startswith(f"correlate: {kit / 'filter-10kHz.csv'}: the file is listed")
    assert outcome.err.count("\n") == 1
    assert not (tmp_path / "record.html").exists()


def test_a_record_of_another_kind_is_refused_first(correlate: Run, tmp_path: Path) -> None:
    """The name is looked at before anything is computed."""
    outcome = correlate("selfcheck", "--record", tmp_path / "record.doc")
    assert (outcome.code, outcome.out) == (2, "")
    assert "let the name end in .html or .pdf" in outcome.err
