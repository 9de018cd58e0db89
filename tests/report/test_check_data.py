"""The data check as JSON and as a file of proposed repairs."""

from __future__ import annotations

import json
import math
import tomllib
from dataclasses import replace
from io import StringIO

from rich.console import Console

from correlate import CheckOutcome, Finding, RepairProposal
from correlate.report.check import check_json, print_check, repairs_toml
from correlate.report.html import check_html


def outcome(*findings: Finding) -> CheckOutcome:
    """Return an outcome without channels."""
    return CheckOutcome(findings=findings, channels=(), load_cases={"drop": ("T1",)})


def finding(what: str, **repair: object) -> Finding:
    """Return a spike with odd evidence."""
    return Finding(
        kind="spike",
        severity="error",
        file='lab/"T1" \\ é',
        channel="c",
        what=what,
        remedy="r",
        evidence={"ratio": math.inf, "words": "x"},
        repair=RepairProposal("bridge", repair) if repair else None,
    )


def test_json_has_no_infinities() -> None:
    """What is not finite becomes null, so that every reader can read it."""
    found = json.loads(check_json(outcome(finding("w"))))
    assert found["findings"][0]["evidence"] == {"ratio": None, "words": "x"}
    assert found["counts"]["error"] == 1


def test_equal_findings_are_printed_once() -> None:
    """With a count and the tests; a finding that says something else stays apart."""
    same = [replace(finding("w"), channel=f"c{number}", file=f"T{number % 2}") for number in range(51)]
    text = StringIO()
    print_check(Console(file=text, width=80), outcome(*same, finding("other")))
    lines = text.getvalue().splitlines()
    assert lines[0].rstrip() == "error  spike  51 channels: T0 (26), T1 (25)"
    assert sum(line.strip() == "w" for line in lines) == 1
    assert lines[3].startswith("error  spike  ")
    assert lines[4].strip() == "other"


def test_proposals_survive_quotes_backslashes_and_control_characters() -> None:
    """Whatever stands in paths and words, the file is TOML and gives it back."""
    made = finding('a \x7f\n\t"b"', spans_s=((0.1, 0.2), (0.3, 0.3)))
    (entry,) = tomllib.loads(repairs_toml(outcome(made, finding("no repair"))))["repair"]
    assert entry["test"] == made.file
    assert entry["reason"] == 'spike: a \\x7f\n\\t"b"', "control characters are written out"
    assert entry["settings"] == {"spans_s": [[0.1, 0.2], [0.3, 0.3]]}
    assert entry["accepted_by"] == ""


def test_the_page_escapes_what_comes_from_files() -> None:
    """Markup in a name or a sentence is shown, not obeyed."""
    page = check_html(outcome(finding("<img src=x onerror=alert(1)>")), title="<script>")
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
    assert "<h1>&lt;script&gt;</h1>" in page
