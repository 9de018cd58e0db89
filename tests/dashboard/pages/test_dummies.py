"""The dummies page: events in, everything that is shown out."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, html, no_update
from plotly.utils import PlotlyJSONEncoder

from correlate import kept_qualifications
from dashboard import ids
from dashboard.components.frame import frame
from dashboard.laboratory import Laboratory
from dashboard.pages.dummies.address import result_key
from dashboard.pages.dummies.callbacks import PICKED, layout, outputs, show
from dashboard.pages.page import Event
from dashboard.state import Project
from tests.dashboard.dummies_project import DAY, write_register
from tests.dashboard.reading import parts, properties, text
from tests.laboratory.books import REGISTER, register_in

if TYPE_CHECKING:
    from pathlib import Path

TODAY = date(2026, 1, 10)
PEAK = "KELP-M: pelvis push: pelvis_peak_g"
TIME = "KELP-M: pelvis push: pelvis_peak_time_ms"


@pytest.fixture(scope="module")
def laboratory(tmp_path_factory: pytest.TempPathFactory) -> Laboratory:
    """Return a folder with a register, a dummy that drifts and one without results."""
    folder = tmp_path_factory.mktemp("dummies")
    write_register(folder)
    return Laboratory(Project(folder))


def opened(laboratory: Laboratory, search: str = "", **event: Any) -> dict[str, Any]:
    """Open a link on a day on which one dummy is overdue."""
    given = {"trigger": None, "picked": dict.fromkeys(PICKED), "theme": None} | event
    return show(laboratory, Event(search=search, **given), TODAY)


def links(part: Any) -> list[str]:
    """Return where the links of a part lead."""
    return [one["href"] for one in properties(part, dcc.Link)]


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callback has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)


def test_the_list_says_state_and_due_in_words(laboratory: Laboratory) -> None:
    """KM-W-003 has no result and comes first; KM-W-002 drifts and is due a year after its newest test."""
    page = opened(laboratory)
    rows = [text(one) for one in parts(page["list"]) if isinstance(one, html.Tr)][1:]
    assert rows[0].startswith("KM-W-003 Type KELP-M Build – ? no result saved ! overdue pelvis push")
    assert "Last 2025-12-15 inside all windows pelvis push Due 2026-12-15 10 tests left" in rows[1]
    assert rows[1].endswith("? alarm of the control chart, drift")
    assert text(page["heading"]).startswith("Overdue: 1 of 2 dummies Kelpwick Impact Laboratory, 10 January")
    assert "Open signals on 1 dummy." in text(page["heading"])


def test_a_row_selects_its_dummy_and_keeps_the_quantity_where_it_has_it(laboratory: Laboratory) -> None:
    """The other dummy has no results, so the quantity is dropped on the way there; here it stays."""
    page = opened(laboratory, f"?dummy=KM-W-002&quantity={TIME}&release=A2")
    away, here = links(page["list"])
    assert away == "/dummies?dummy=KM-W-003&release=A2"
    assert "dummy=KM-W-002" in here
    assert "pelvis_peak_time_ms" in here
    picked = [one for one in parts(page["list"]) if "is-picked" in (getattr(one, "className", None) or "")]
    assert [text(one).split()[0] for one in picked] == ["KM-W-002"]


def test_the_first_open_signal_is_drawn(laboratory: Laboratory) -> None:
    """The peak drifts, its time does not; what is open comes first and is marked."""
    page = opened(laboratory, "?dummy=KM-T-004")
    assert page["title"] == "KM-W-002"
    assert page["quantity"] == PEAK
    (group,) = page["quantity_options"]
    assert group["group"] == "pelvis push"
    assert [one["label"].split(" · ")[-1] for one in group["items"]] == [
        "drift",
        "time of the peak of the pelvis acceleration",
    ]
    said = text(page["remarks"])
    assert "? Drift per year: +7." in said
    assert said.index("Drift per year") < said.index("Newest value")
    assert "Exchange of rib set (2025-06-01): not distinguishable" in said
    assert "Next test: due by 2026-12-15, 10 tests left." in said
    assert "Window: 40 to 60 g, KELP-M, house rule 12" in text(page["sources"])
    assert "ISO 7870-2" in text(page["sources"])
    assert page["figure"].layout.yaxis.title.text == "peak of the pelvis acceleration [g]"
    assert page["measured_hidden"] is page["menu_hidden"] is page["shown_hidden"] is False
    assert page["tab_title"] == "KM-W-002: alarm of the control chart, drift"


def test_a_picked_quantity_is_written_into_the_link(laboratory: Laboratory) -> None:
    """Other keys stay."""
    page = opened(
        laboratory,
        "?dummy=KM-W-002&release=A1",
        trigger=ids.DUMMIES_QUANTITY,
        picked={"quantity": TIME},
        theme="dark",
    )
    assert "pelvis_peak_time_ms" in page["search"]
    assert page["search"].endswith("dummy=KM-W-002&release=A1")
    assert page["figure"].layout.yaxis.title.text == "time of the peak of the pelvis<br>acceleration [ms]"
    assert opened(laboratory, page["search"])["quantity"] == TIME


def test_parts_results_and_sensors_are_listed(laboratory: Laboratory) -> None:
    """Exchanges by time, results newest first, sensors with what the register says."""
    page = opened(laboratory, "?dummy=KM-W-002")
    assert "2025-06-01 rib set Worn. Exchanged by: lab. Can influence: pelvis." in text(page["facts"])
    assert "Body parts KM-T-004" in text(page["facts"])
    days = [text(row).split()[1] for row in parts(page["history"]) if isinstance(row, html.Tr)][1:]
    assert days == sorted(days, reverse=True)
    assert len(days) == 12
    assert "do not certify" in text(page["history"])
    sensors = text(page["sensors"])
    assert "No calibration of 1 is overdue." in sensors
    assert "AC-101 Pelvis acceleration Z ??PELV??????ACZ? Due 2026-01-20" in sensors
    assert "Sensitivity 2.1 mV/V/g Range ± 100 g Polarity normal" in sensors


def test_a_result_opens_with_its_details_and_closes(laboratory: Laboratory) -> None:
    """Every quantity with window and verdict, hashes, version and caution; the link can be shared."""
    page = opened(laboratory, "?dummy=KM-W-002&mail=9")
    assert page["result_hidden"] is True
    address = next(one for one in links(page["history"]) if "result=" in one)
    opened_page = opened(laboratory, address.removeprefix("/dummies"))
    said = text(opened_page["result"])
    assert opened_page["result_hidden"] is False
    for words in (
        "KM-W-002: pelvis push, 2025-12-15",
        "Inside all windows.",
        "Peak of the pelvis acceleration Window 40 to 60 g Value 55.23 g · inside",
        "Windows KELP-M, house rule 12",
        "Recording P11",
        "Time zero 0.0 s",
        "Offset removed yes",
        "SHA-256",
        "do not certify",
    ):
        assert words in said
    assert links(opened_page["result"]) == ["/dummies?dummy=KM-W-002&mail=9"]


def test_another_day_shows_what_was_due_then(laboratory: Laboratory) -> None:
    """Later results are left out; the sensor had no valid calibration between its two."""
    page = opened(laboratory, "?dummy=KM-W-002&day=2025-01-15")
    assert text(page["heading"]).startswith("Overdue: 1 of 2 dummies, 1 of 1 sensor")
    assert "state on 15 January 2025" in text(page["heading"])
    assert links(page["heading"]) == ["/dummies?dummy=KM-W-002"]
    assert len([row for row in parts(page["history"]) if isinstance(row, html.Tr)]) == 2
    assert "! overdue: valid until 2025-01-10" in text(page["sensors"])


def test_a_dummy_without_results_says_how_to_keep_one(laboratory: Laboratory) -> None:
    """No chart and no menu."""
    page = opened(laboratory, "?dummy=KM-W-003")
    assert page["measured_hidden"] is page["menu_hidden"] is True
    assert "No result of KM-W-003 is saved yet" in text(page["empty"])
    assert "--keep laboratory.toml" in text(page["empty"])
    assert "No result is saved yet." in text(page["history"])


@pytest.mark.parametrize(
    ("search", "words"),
    [
        ("?dummy=KM-X", "there is no dummy 'KM-X'; the register has 'KM-W-002', 'KM-W-003'"),
        ("?dummy=KM-W-002&quantity=x", "there is no quantity 'x'"),
        ("?dummy=KM-W-002&result=x", "there is no result 'x'"),
        ("?day=tomorrow", "'tomorrow' is not a valid day"),
    ],
)
def test_a_wrong_link_is_said_with_a_way_back(laboratory: Laboratory, search: str, words: str) -> None:
    """One sentence; nothing else is shown."""
    page = opened(laboratory, search)
    assert words in text(page["problem"])
    assert links(page["problem"]) == ["/dummies"]
    assert page["shown_hidden"] is True


def test_without_a_register_the_page_says_what_to_write(tmp_path: Path) -> None:
    """File, keys and command."""
    page = opened(Laboratory(Project(tmp_path)))
    said = text(page["problem"])
    assert said.startswith("No register of dummies yet")
    for words in ("laboratory.toml", "[[dummy]]", "correlate qualify", "--keep"):
        assert words in said
    assert page["shown_hidden"] is True


def test_mistakes_of_the_register_are_said_without_the_folder(tmp_path: Path) -> None:
    """All at once, with their lines."""
    wrong = REGISTER.replace("range = 100", "range = -1").replace("months = 12", "months = 0")
    (tmp_path / "laboratory.toml").write_text(wrong, encoding="utf-8")
    said = text(opened(Laboratory(Project(tmp_path)))["problem"])
    assert said.startswith("The dummies cannot be shown laboratory.toml:")
    assert "range" in said
    assert "months" in said
    assert str(tmp_path) not in said


def test_a_damaged_result_is_named(tmp_path: Path) -> None:
    """With file and remedy."""
    write_register(tmp_path)
    broken = next(tmp_path.glob("qualifications/*.json"))
    broken.write_text("{", encoding="utf-8")
    said = text(opened(Laboratory(Project(tmp_path)))["problem"])
    assert f"qualifications/{broken.name}: this is not a saved qualification result" in said


def test_a_register_without_dummies_shows_its_sensors(tmp_path: Path) -> None:
    """The list says so; nothing stays open."""
    start = REGISTER.index("[[sensor]]")
    register_in(tmp_path, REGISTER[start:])
    page = opened(Laboratory(Project(tmp_path)))
    assert "The register has no dummies" in text(page["list"])
    assert "AC-101" in text(page["sensors"])
    assert page["measured_hidden"] is page["menu_hidden"] is page["result_hidden"] is True


def test_a_new_result_is_seen_and_an_old_one_read_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The log is read again only when a file of it changes."""
    asked = []
    monkeypatch.setattr("dashboard.laboratory.laboratory_overview", lambda *given: asked.append(given))
    register_in(tmp_path)
    laboratory = Laboratory(Project(tmp_path))
    laboratory.dummies(TODAY)
    laboratory.dummies(TODAY)
    assert len(asked) == 1
    write_register(tmp_path)
    laboratory.dummies(TODAY)
    assert len(asked) == 2


def test_long_tables_have_pages_and_the_page_stays_small(tmp_path: Path) -> None:
    """Of 62 dummies and 201 sensors, one part is sent, in less than 200 kB; links lead to the others."""
    dummies = "\n".join(f'[[dummy]]\nserial = "KM-{at}"\ntype = "KELP-M"' for at in range(60))
    sensor = REGISTER[REGISTER.index("[[sensor]]") : REGISTER.index("[[interval]]")]
    more = "\n".join(sensor.replace("AC-101", f"AC-{at}") for at in range(200, 400))
    write_register(tmp_path, text=f"{REGISTER}\n{dummies}\n{more}")
    laboratory = Laboratory(Project(tmp_path))
    page = opened(laboratory, "?dummy=KM-W-002")
    sent = {key: value for key, value in page.items() if value is not no_update}
    assert len(json.dumps(sent, cls=PlotlyJSONEncoder)) < 200_000
    assert "Dummies 1–20 of 62" in text(page["list"])
    assert "Sensors 1–20 of 201" in text(page["sensors"])
    last = next(one["href"] for one in properties(page["sensors"], dcc.Link) if one["children"] == "Last")
    assert last == "/dummies?sensors-page=11&dummy=KM-W-002"
    end = opened(laboratory, last.removeprefix("/dummies"))
    assert "Sensors 201–201 of 201" in text(end["sensors"])
    assert "AC-399" in text(end["sensors"])


def test_the_dummy_that_is_shown_is_listed_on_every_page(tmp_path: Path) -> None:
    """Otherwise nothing in the table would be marked."""
    dummies = "\n".join(f'[[dummy]]\nserial = "KM-{at}"\ntype = "KELP-M"' for at in range(60))
    write_register(tmp_path, text=f"{REGISTER}\n{dummies}")
    page = opened(Laboratory(Project(tmp_path)), "?dummy=KM-W-002&dummies-page=3")
    rows = properties(page["list"], html.Tr)[1:]
    assert [row["className"] for row in rows].index("pick-row is-picked") == len(rows) - 1
    assert "41–60 of 62" in text(page["list"])


def test_a_short_key_names_one_result(laboratory: Laboratory) -> None:
    """Keys in links differ."""
    overview = laboratory.dummies(TODAY)
    assert overview is not None
    keys = [result_key(one) for one in kept_qualifications(overview.register)]
    assert len(set(keys)) == len(keys) == 12
    assert TODAY.isoformat() == DAY
