"""The page on reference data: its example of expectations is a file that can be used, its kinds are all."""

from __future__ import annotations

import re
from pathlib import Path

from correlate import Recording, Signal, check, load_expectations
from correlate.reference.finding import KINDS
from demo_pairs.laboratory import record

PAGE = Path(__file__).parents[2] / "docs" / "reference-data.md"


def test_the_example_of_expectations_holds_for_the_demo(tmp_path: Path) -> None:
    """The thorax impact of the demo meets it, and a turned sternum does not."""
    example = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert example
    path = tmp_path / "expectations.toml"
    path.write_text(example[1], encoding="utf-8")
    expectations = load_expectations(path)
    test = record("thorax-impact", 1)
    details = {
        "Type of the test": test.load_case,
        "Velocity test object 1": str(test.conditions.impact_speed),
    }
    for sign, expected in ((1, []), (-1, [("polarity", "D0CHST0003KMDSXP")])):
        signals = tuple(
            Signal(
                samples=channel.samples * (sign if channel.code == "D0CHST0003KMDSXP" else 1),
                start_s=test.first_time,
                step_s=test.sampling_step,
                unit=channel.unit,
                channel=channel.code,
            )
            for channel in test.channels
        )
        recording = Recording(signals=signals, path=tmp_path / "t", format="computed", details=details)
        found = check([recording], expectations=expectations).findings
        assert [(finding.kind, finding.channel) for finding in found] == expected


def test_every_kind_of_finding_is_explained() -> None:
    """No kind is missing in the table."""
    text = PAGE.read_text(encoding="utf-8")
    assert [kind for kind in KINDS if f"`{kind}`" not in text] == []


def test_the_pictures_are_there() -> None:
    """Every picture that the page shows is a file beside it."""
    shown = re.findall(r"!\[[^]]*\]\(([^)]+)\)", PAGE.read_text(encoding="utf-8"))
    assert len(shown) == 3
    assert all((PAGE.parent / name).is_file() for name in shown)
