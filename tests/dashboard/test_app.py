"""The application: its page, its headers, and that it asks nobody else for anything."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from dash import dcc, html

from correlate.plots import DARK, LIGHT
from dashboard.access import THIS_MACHINE, Account, Role
from dashboard.access.account import without_role
from dashboard.app import PAGES, create_app, head_of, page_at
from dashboard.components.frame import frame
from dashboard.signing_in.pages import PATHS
from dashboard.state import Project
from tests.dashboard.reading import parts, properties, text

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient

    from dashboard.pages.page import Page


@pytest.fixture
def client(folder: Path) -> FlaskClient:
    """Return a client of the application for the small project."""
    return create_app(folder).server.test_client()  # type: ignore[no-any-return]


def test_the_page_is_english_and_carries_both_themes(client: FlaskClient) -> None:
    """The document says its language, and its style has the colours of both palettes."""
    page = client.get("/").get_data(as_text=True)
    assert '<html lang="en">' in page
    assert LIGHT.as_css() in page
    assert DARK.as_css() in page


def test_everything_is_loaded_from_this_server(client: FlaskClient) -> None:
    """Scripts, styles and icons have relative addresses or stand in the page."""
    page = client.get("/").get_data(as_text=True)
    loaded = re.findall(r"""(?:src|href)=["']?([^"'\s>]+)""", page)
    assert len(loaded) > 5
    assert [address for address in loaded if re.match(r"(?:https?:)?//", address)] == []


def test_every_script_and_style_is_there(client: FlaskClient) -> None:
    """What the page names can be loaded."""
    page = client.get("/").get_data(as_text=True)
    for address in re.findall(r"""<(?:script|link)[^>]*(?:src|href)=["']?([^"'\s>]+)""", page):
        if not address.startswith("data:"):
            assert client.get("/" + address.lstrip("/"), buffered=True).status_code == 200, address


@pytest.mark.parametrize("path", ["/", "/_dash-layout", "/assets/page.css", "/no/such/page"])
def test_every_answer_has_the_headers(client: FlaskClient, path: str) -> None:
    """Policy, no sniffing, no framing, no referrer."""
    headers = client.get(path, buffered=True).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "object-src 'none'" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "no-referrer"


def test_the_policy_names_no_other_host(client: FlaskClient) -> None:
    """No rule allows another host, and scripts inside the page are allowed by hash alone."""
    policy = client.get("/").headers["Content-Security-Policy"]
    assert not re.search(r"https?:|\*|\bunsafe-eval\b", policy)
    scripts = re.search(r"script-src ([^;]*)", policy)
    assert scripts
    assert "unsafe-inline" not in scripts.group(1)
    assert "'sha256-" in scripts.group(1)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example:8050", "[::2]", "127.0.0.1:x"])
def test_another_host_name_is_refused(client: FlaskClient, host: str) -> None:
    """A page elsewhere that points its name at this machine gets nothing."""
    assert client.get("/", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "localhost:1234", "[::1]:8050", "[::1]"])
def test_this_machine_is_served(client: FlaskClient, host: str) -> None:
    """The names of this machine are answered on any port."""
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "path", ["/_dash-component-suites/nothing/x.js", "/_dash-component-suites/dash/../x"]
)
def test_an_unknown_file_is_not_found(client: FlaskClient, path: str) -> None:
    """A path that is not there is a 404, not a fault of the server."""
    assert client.get(path).status_code == 404


def test_answers_about_data_are_not_kept(client: FlaskClient) -> None:
    """The browser stores no page and no result on disk."""
    assert client.get("/").headers["Cache-Control"] == "no-store"
    assert client.get("/_dash-layout").headers["Cache-Control"] == "no-store"


def test_there_is_no_second_interface(client: FlaskClient) -> None:
    """Nothing answers under the path of the optional tool protocol of dash but the page itself."""
    answer = client.post("/_mcp", json={"jsonrpc": "2.0", "id": 1, "method": "tools/list"})
    assert answer.status_code in {404, 405}


def test_every_page_has_its_own_path_and_ids() -> None:
    """No two pages share a path, and none shares an id with another or with the frame."""
    paths = [page.path for page in PAGES]
    assert len(set(paths)) == len(paths)
    whole = [frame([(page.path, page.name) for page in PAGES]), *(page.layout("") for page in PAGES)]
    found = [str(part.id) for part in parts(whole) if getattr(part, "id", None)]
    assert sorted(set(found)) == sorted(found)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_path_leads_to_its_page(page: Page) -> None:
    """The page is made with the query of the link, with and without a slash at the end."""
    for path in (page.path, page.path + "/"):
        shown, name = page_at(path, "?release=A2")
        assert name == page.name
        (address,) = properties(shown, dcc.Location)
        assert address["search"] == "?release=A2"


def test_an_unknown_path_says_which_pages_there_are() -> None:
    """The path is named as text, and every page can be reached from there."""
    shown, name = page_at("/no/such/<b>page", "")
    assert name == "No such page"
    assert "/no/such/<b>page" in text(shown)
    assert [link["href"] for link in properties(shown, dcc.Link)] == [page.path for page in PAGES]


def test_the_head_names_the_campaign_where_there_is_one(folder: Path, tmp_path: Path) -> None:
    """Title and device stand in the head; without a campaign it is empty, not broken."""
    assert text(head_of(Project(folder), THIS_MACHINE)) == "Small <campaign> KELP-M"
    assert head_of(Project(tmp_path), THIS_MACHINE) == []


def test_the_head_names_who_is_signed_in(folder: Path) -> None:
    """On a server with accounts the name leads to the page where one signs out."""
    head = head_of(Project(folder), Account(name="lab <1>", role=Role.LAB))
    assert text(head).endswith("lab <1>")
    (link,) = properties(head, html.A)
    assert link["href"] == PATHS.account


def test_every_callback_has_a_least_role(folder: Path) -> None:
    """No callback of the server was registered without one."""
    assert without_role(create_app(folder)) == []


def test_no_callback_of_a_page_names_another_page(folder: Path) -> None:
    """Outputs of one callback stand together on one page, or all in the frame."""
    of_page = {
        str(part.id): page.name
        for page in PAGES
        for part in parts(page.layout(""))
        if getattr(part, "id", None)
    }
    for callback in create_app(folder).callback_map.values():
        outputs = callback["output"]
        listed = outputs if isinstance(outputs, (list, tuple)) else [outputs]
        # A group of outputs has no place in a layout: the page makes its parts later.
        single = [output for output in listed if output is not None and not output.has_wildcard()]
        places = {of_page.get(str(output.component_id)) for output in single}
        assert len(places) <= 1
