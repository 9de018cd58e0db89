"""How scripts and style sheets reach a browser: few, small, compressed once, and kept until they change."""

from __future__ import annotations

import re
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from dash import Dash
from dash.fingerprint import check_fingerprint
from flask import g, request, send_from_directory
from flask_compress import Compress

from dashboard.access import Role, permitted
from dashboard.access.gate import ASSETS, COMPONENTS

if TYPE_CHECKING:
    from flask import Response

ASSETS_FOLDER: Final = Path(__file__).with_name("assets")
VENDORED: Final = Path(__file__).with_name("vendored")

PLOTLY: Final = "plotly-cartesian.min.js"
"""The build of the drawing library that has every kind of trace of our figures and few others."""

PLOTLY_ADDRESS: Final = "/_dash-component-suites/plotly/package_data/plotly.min.js"
"""Where a graph looks for the whole library when it is the first one of a page."""

GRID: Final = "dash_ag_grid"
"""The package of the grid, which `assets/grid.js` loads when a page shows one."""

FOREVER: Final = "max-age=31536000, immutable"
"""Of what is named by its content."""

_COMPRESSED: Final = ["text/css", "text/javascript", "application/javascript", "application/json"]
"""No HTML: the forms carry a token beside text of the address, and the size of a compressed answer could
give it away. Scripts and style sheets are public; callbacks answer only to a page of this server."""

_DATED: Final = re.compile(r"/assets/([\w./-]+)\?m=[\d.]+")


class Application(Dash):
    """An application whose document names each file by its content, and leaves the grid for later."""

    def interpolate_index(self, **parts: Any) -> str:  # type: ignore[override]  # called by name alone
        """Return the document around the pages."""
        lines = str(parts["scripts"]).split("\n")
        grid = [line for line in lines if f"/{GRID}/" in line]
        address = "".join(re.findall(r'src="([^"]+)"', "".join(grid)))
        parts["scripts"] = "\n".join(line for line in lines if line not in grid)
        page: str = super().interpolate_index(**parts)  # type: ignore[no-untyped-call]
        return _DATED.sub(lambda found: asset(found[1]), page).replace("GRID_SOURCE", address)


def asset(name: str) -> str:
    """Return the address of a file of ours, which changes with its content."""
    return f"/assets/{name}?v={_content_of(ASSETS_FOLDER / name)}"


def deliver(app: Dash) -> None:
    """Compress what is worth it, and say how long browsers may keep it."""
    server = app.server
    server.config.update(
        COMPRESS_MIMETYPES=_COMPRESSED,
        COMPRESS_ALGORITHM=["br", "gzip"],
        # A third smaller than level 4, and as fast as gzip; higher levels take three times as long for 2 %.
        COMPRESS_BR_LEVEL=5,
        COMPRESS_STREAMS=False,
        COMPRESS_CACHE_BACKEND=_CompressedFiles,
        COMPRESS_CACHE_KEY=lambda _: g.get(_TAG, ""),
    )
    Compress(server)
    # After the one of the compression, and therefore called before it.
    server.after_request(_mark)
    with permitted(app, Role.VIEWER):
        server.add_url_rule(PLOTLY_ADDRESS, _PLOTLY_ENDPOINT, lambda: send_from_directory(VENDORED, PLOTLY))


_PLOTLY_ENDPOINT: Final = "plotly"
_TAG: Final = "content-tag"


class _CompressedFiles(dict[str, bytes]):
    """Compressed files by algorithm and content; answers about data are not kept."""

    def set(self, key: str, value: bytes) -> None:
        """Keep a file."""
        if not key.endswith(";"):
            self[key] = value


def _mark(response: Response) -> Response:
    """Tag a file with its content, and let browsers keep it as long as its address says."""
    if request.endpoint not in {ASSETS, COMPONENTS, _PLOTLY_ENDPOINT} or response.status_code != 200:
        return response
    # Read whole, so that it is compressed once and not again for every browser.
    response.direct_passthrough = False
    response.set_etag(sha256(response.get_data()).hexdigest()[:20])
    setattr(g, _TAG, response.get_etag()[0])
    response.headers["Cache-Control"] = FOREVER if _named_by_content() else "no-cache"
    response.make_conditional(request)
    return response


def _named_by_content() -> bool:
    if request.endpoint == COMPONENTS:
        return bool(check_fingerprint(request.path)[1])  # type: ignore[no-untyped-call]
    return request.endpoint == ASSETS and request.full_path == asset(request.path.removeprefix("/assets/"))


def _content_of(path: Path) -> str:
    seen = path.stat()
    return _hash_of(path, seen.st_mtime_ns, seen.st_size)


@lru_cache(maxsize=100)
def _hash_of(path: Path, changed_ns: int, size: int) -> str:  # noqa: ARG001 - another file when they differ
    return sha256(path.read_bytes()).hexdigest()[:12]
