"""What reaches a browser: how small it is, how often it is asked for again, and what stays away."""

from __future__ import annotations

import gzip
import re
from pathlib import Path
from typing import TYPE_CHECKING, Final

import brotli
import pytest
from plotly.offline import get_plotlyjs_version

from dashboard import delivery
from dashboard.app import PAGES, create_app
from dashboard.delivery import FOREVER, PLOTLY, PLOTLY_ADDRESS, VENDORED, asset

if TYPE_CHECKING:
    from flask.testing import FlaskClient

ROOT: Final = Path(__file__).parents[2]
BROWSER: Final = {"Accept-Encoding": "gzip, deflate, br, zstd"}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> FlaskClient:
    """Return a client of an application; no test here asks for data."""
    return create_app(tmp_path_factory.mktemp("empty")).server.test_client()  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def document(client: FlaskClient) -> str:
    """Return the document around the pages."""
    return client.get("/").get_data(as_text=True)


def addresses(document: str) -> list[str]:
    """Return what the document loads."""
    found = re.findall(r"""<(?:script|link)[^>]*(?:src|href)=["']?([^"'\s>]+)""", document)
    return [one for one in found if not one.startswith("data:")]


@pytest.mark.parametrize(
    ("accepted", "name", "opened"),
    [
        (BROWSER, "br", brotli.decompress),
        ({"Accept-Encoding": "gzip"}, "gzip", gzip.decompress),
        ({}, None, bytes),
    ],
)
def test_scripts_and_styles_are_compressed_as_a_browser_asks(
    client: FlaskClient, document: str, accepted: dict[str, str], name: str | None, opened: type
) -> None:
    """The content is the same, and a proxy is told that it depends on what was asked for."""
    for address in (*addresses(document), PLOTLY_ADDRESS):
        plain = client.get(address, buffered=True)
        answer = client.get(address, headers=accepted, buffered=True)
        assert "Accept-Encoding" in answer.headers["Vary"]
        # What is smaller would hardly gain.
        assert answer.headers.get("Content-Encoding") == (name if len(plain.data) >= 500 else None), address
        assert (opened(answer.data) if "Content-Encoding" in answer.headers else answer.data) == plain.data


def test_a_file_is_compressed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not for every browser; answers about data are compressed anew and not kept."""
    done: list[int] = []
    work = brotli.compress

    def counted(data: bytes, **how: int) -> bytes:
        done.append(len(data))
        compressed: bytes = work(data, **how)
        return compressed

    monkeypatch.setattr("flask_compress.flask_compress.brotli.compress", counted)
    app = create_app(Path("nowhere"))
    other = app.server.test_client()
    for path in ("/assets/page.css", PLOTLY_ADDRESS, "/_dash-layout"):
        before = len(done)
        for _ in range(3):
            assert other.get(path, headers=BROWSER, buffered=True).headers["Content-Encoding"] == "br"
        assert len(done) - before == (3 if path == "/_dash-layout" else 1), path


@pytest.mark.parametrize("path", ["/", "/pair", "/no/such/page"])
def test_documents_are_not_compressed(client: FlaskClient, path: str) -> None:
    """The size of a compressed form could give its token away."""
    answer = client.get(path, headers=BROWSER)
    assert answer.mimetype == "text/html"
    assert "Content-Encoding" not in answer.headers


def test_what_the_document_names_is_kept_for_good(client: FlaskClient, document: str) -> None:
    """Each address changes with the file, so that no browser has to ask whether it has."""
    for address in addresses(document):
        assert client.get(address, headers=BROWSER, buffered=True).headers["Cache-Control"] == FOREVER, (
            address
        )


@pytest.mark.parametrize("address", ["/assets/page.css", "/assets/page.css?v=another", PLOTLY_ADDRESS])
@pytest.mark.parametrize("accepted", [BROWSER, {}], ids=["compressed", "plain"])
def test_what_has_no_such_address_is_asked_for_again_and_not_sent_again(
    client: FlaskClient, address: str, accepted: dict[str, str]
) -> None:
    """A browser that has the file is told so."""
    first = client.get(address, headers=accepted, buffered=True)
    assert first.headers["Cache-Control"] == "no-cache"
    again = client.get(address, headers={**accepted, "If-None-Match": first.headers["ETag"]}, buffered=True)
    assert (again.status_code, again.data) == (304, b"")


def test_another_content_has_another_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even where size and name stay."""
    monkeypatch.setattr(delivery, "ASSETS_FOLDER", tmp_path)
    file = tmp_path / "one.css"
    names = []
    for text in ("a { }", "b { }", "a { }"):
        file.unlink(missing_ok=True)
        file.write_text(text, encoding="utf-8")
        names.append(asset("one.css"))
    assert names[0] != names[1]
    assert names[0] == names[2]


def test_the_grid_waits_for_a_page_that_shows_one(client: FlaskClient, document: str) -> None:
    """Its library is no script of the document, which says where it is."""
    assert not any("dash_ag_grid" in one for one in addresses(document))
    source = re.search(r'<meta id="grid-source" content="([^"]+)">', document)
    assert source
    answer = client.get(source[1], headers=BROWSER, buffered=True)
    assert answer.headers["Cache-Control"] == FOREVER
    assert b"window.dash_ag_grid=" in brotli.decompress(answer.data)


def test_the_drawing_library_fits_the_figures() -> None:
    """Same version as the package that makes them, with every kind of trace that is used."""
    script = (VENDORED / PLOTLY).read_text(encoding="utf-8")
    assert f"plotly.js (cartesian - minified) v{get_plotlyjs_version()}" in script[:200]
    sources = [*(ROOT / "correlate/plots").glob("*.py"), *(ROOT / "dashboard").rglob("*.py")]
    used = {
        kind.lower()
        for file in sources
        for kind in re.findall(r"\bgo\.([A-Z]\w+)\(", file.read_text(encoding="utf-8"))
    }
    assert {"scatter", "heatmap"} <= used
    drawn = set(re.findall(r'moduleType:"trace",name:"(\w+)"', script))
    assert used - {"figure", "layout"} <= drawn


def test_the_pages_need_little(client: FlaskClient, document: str) -> None:
    """The document and all it names, compressed: what an empty browser loads before the first callback."""
    sizes = [len(client.get(one, headers=BROWSER, buffered=True).data) for one in addresses(document)]
    assert len(PAGES) > 3
    assert sum(sizes) + len(document) < 800_000
