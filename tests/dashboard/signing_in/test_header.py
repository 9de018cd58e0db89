"""Sign-in by a header of a reverse proxy, from the settings to the answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from correlate import CorrelateError
from dashboard.access import Role
from dashboard.accounts import AccountBook, AuditTrail, open_accounts
from dashboard.server_settings import load_settings
from dashboard.serving import server_app
from tests.dashboard.served import CHEAP, ORIGIN, PASSWORD, token_in

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient
    from werkzeug.test import TestResponse

PROXY = "10.1.2.3"
HEADER = '[accounts.header]\nname = "X-Remote-User"\nfrom = ["10.1.2.3", "fd00::/64"]\n'
GROUPS = 'groups = "X-Remote-Groups"\nroles = {"crash lab" = "lab", "everybody" = "viewer"}\n'


@pytest.fixture
def book(tmp_path: Path) -> AccountBook:
    """Return the accounts, one of which is called lab."""
    book = AccountBook(open_accounts(str(tmp_path / "accounts.sqlite")), passwords=CHEAP)
    book.add("lab", Role.LAB, None)
    return book


@pytest.fixture
def trail(tmp_path: Path, book: AccountBook) -> AuditTrail:
    """Return the audit trail."""
    assert book
    return AuditTrail(open_accounts(str(tmp_path / "accounts.sqlite")))


def _served(
    folder: Path, tmp_path: Path, header: str = HEADER, *, accounts: str = "", proxies: int = 1
) -> Any:
    """Return a browser of a server with these settings."""
    file = tmp_path / "server.toml"
    file.write_text(
        f'project = "{folder}"\n[public]\nurl = "{ORIGIN}"\nproxies = {proxies}\n'
        f'[accounts]\nsecret_key_file = "secret.key"\n{accounts}{header}'
    )
    (tmp_path / "secret.key").write_text("k" * 48)
    (tmp_path / "secret.key").chmod(0o600)
    return server_app(load_settings(file)).server.test_client()


def _ask(
    client: FlaskClient,
    path: str = "/scoreboard",
    *,
    peer: str = PROXY,
    form: dict[str, str] | None = None,
    **headers: str,
) -> TestResponse:
    """Ask through a proxy, which forwards the address of a browser."""
    sent = {
        "X-Forwarded-For": "192.0.2.9",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "ratings.example",
    }
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.open(
        path,
        method="POST" if form else "GET",
        data=form,
        base_url="http://127.0.0.1:8050",
        headers=sent | named,
        environ_base={"REMOTE_ADDR": peer},
        buffered=True,
    )


def test_the_proxy_signs_in_whom_it_names(
    folder: Path, tmp_path: Path, book: AccountBook, trail: AuditTrail
) -> None:
    """Without a page in between; the session then serves what the page asks for."""
    client = _served(folder, tmp_path)
    assert book
    assert _ask(client, X_Remote_User="Lab").status_code == 200
    assert _ask(client, "/_dash-layout", X_Remote_User="lab").status_code == 200
    entries = trail.last(9)
    assert [(one.who, one.what, one.about, one.address) for one in entries] == [
        ("lab", "signed in", "by the header of the proxy", "192.0.2.9")
    ]


@pytest.mark.parametrize("peer", ["10.1.2.4", "127.0.0.1", "192.0.2.9", "", "::1", "fd00:0:0:1::1"])
def test_from_anywhere_else_the_header_is_ignored(
    folder: Path, tmp_path: Path, book: AccountBook, peer: str
) -> None:
    """Whatever the forwarded headers say: the direct peer counts, before any of them is believed."""
    assert book
    client = _served(folder, tmp_path)
    answer = _ask(client, peer=peer, X_Remote_User="lab", X_Forwarded_For=PROXY)
    assert answer.status_code == 303
    assert answer.location.startswith("/sign-in")
    assert _ask(client, "/_dash-layout", peer=peer, X_Remote_User="lab").status_code == 401


@pytest.mark.parametrize("peer", ["::ffff:10.1.2.3", "fd00::17"])
def test_a_proxy_is_recognized_in_every_form_of_its_address(
    folder: Path, tmp_path: Path, book: AccountBook, peer: str
) -> None:
    """An IPv4 address that is written as IPv6, and one inside a network."""
    assert book
    assert _ask(_served(folder, tmp_path), peer=peer, X_Remote_User="lab").status_code == 200


def test_the_header_reaches_nothing_behind_the_first_layer(folder: Path, tmp_path: Path) -> None:
    """It is removed in any case, so that nothing can read it by mistake."""
    client = _served(folder, tmp_path, HEADER + GROUPS)
    seen: list[dict[str, Any]] = []
    outermost = client.application.wsgi_app
    inner = outermost._application

    def look(environ: dict[str, Any], start_response: Any) -> Any:
        seen.append(environ)
        return inner(environ, start_response)

    outermost._application = look
    _ask(client, peer="192.0.2.1", X_Remote_User="lab", X_Remote_Groups="crash lab")
    _ask(client, X_Remote_User="lab", X_Remote_Groups="crash lab")
    assert [
        key for environ in seen for key in environ if "REMOTE_USER" in key or "REMOTE_GROUPS" in key
    ] == []
    assert ["correlate.header" in environ for environ in seen] == [False, True]


@pytest.mark.parametrize("name", ["LAB", " lab ", "\uff4cab"])
def test_a_name_that_is_written_in_another_way_is_the_same_user(
    folder: Path, tmp_path: Path, book: AccountBook, trail: AuditTrail, name: str
) -> None:
    """Names are compared as accounts are: capitals, spaces and wide letters do not begin another session."""
    assert book
    client = _served(folder, tmp_path)
    raw = name.encode().decode("latin-1")
    assert _ask(client, X_Remote_User=raw).status_code == 200
    assert _ask(client, "/_dash-layout", X_Remote_User=raw).status_code == 200
    assert [entry.what for entry in trail.last(9)] == ["signed in"]


def test_a_session_ends_when_the_proxy_names_somebody_else(
    folder: Path, tmp_path: Path, book: AccountBook
) -> None:
    """Or nobody: the proxy decides at every request."""
    book.add("office", Role.VIEWER, None)
    client = _served(folder, tmp_path)
    _ask(client, X_Remote_User="lab")
    page = _ask(client, "/account", X_Remote_User="office").text
    assert "office, role viewer" in page
    assert _ask(client, "/_dash-layout").status_code == 401
    assert _ask(client, "/_dash-layout", X_Remote_User="office").status_code == 401


@pytest.mark.parametrize("name", ["stranger", "lab, admin", "../lab", "lab\u00e9" * 30, "a b"])
def test_an_unknown_user_is_refused_in_a_sentence(
    folder: Path, tmp_path: Path, book: AccountBook, trail: AuditTrail, name: str
) -> None:
    """Nothing is added, and the trail says who came."""
    client = _served(folder, tmp_path)
    raw = name.encode().decode("latin-1")
    assert _ask(client, X_Remote_User=raw).location.startswith("/sign-in")
    page = _ask(client, "/sign-in", X_Remote_User=raw)
    assert page.status_code == 403
    assert "You cannot sign in:" in page.text
    assert "Password" not in page.text
    assert [known.name for known in book.all()] == ["lab"]
    assert trail.last(9) == []
    (refused,) = trail.counted()
    assert refused.what.startswith("was refused by the header of the proxy (no ")


def test_an_unknown_user_gets_the_role_of_the_settings(
    folder: Path, tmp_path: Path, book: AccountBook, trail: AuditTrail
) -> None:
    """An account without password, of which the trail tells."""
    client = _served(folder, tmp_path, HEADER + 'unknown = "viewer"\n')
    assert _ask(client, X_Remote_User="new.colleague").status_code == 200
    known = book.find("new.colleague")
    assert known is not None
    assert (known.role, known.has_password) == (Role.VIEWER, False)
    assert [entry.what for entry in trail.last(9)] == ["got a new account, role viewer", "signed in"]
    assert book.find("lab") is not None


def test_groups_decide_the_role_at_every_request(folder: Path, tmp_path: Path, book: AccountBook) -> None:
    """The highest counts; whoever leaves a group loses its role at once, and then the access."""
    client = _served(folder, tmp_path, HEADER + GROUPS)
    _ask(client, X_Remote_User="lab", X_Remote_Groups="everybody, crash lab")
    higher = _ask(client, "/account", X_Remote_User="lab", X_Remote_Groups="crash lab")
    assert "lab, role lab" in higher.text
    assert (
        "lab, role viewer" in _ask(client, "/account", X_Remote_User="lab", X_Remote_Groups="everybody").text
    )
    assert _ask(client, "/account", X_Remote_User="lab", X_Remote_Groups="others").status_code == 303
    assert _ask(client, "/_dash-layout", X_Remote_User="lab", X_Remote_Groups="others").status_code == 401
    known = book.find("lab")
    assert known is not None
    assert known.role is Role.VIEWER


def test_a_closed_account_stays_closed(folder: Path, tmp_path: Path, book: AccountBook) -> None:
    """Whatever the proxy says."""
    book.close("lab")
    client = _served(folder, tmp_path)
    assert _ask(client, X_Remote_User="lab").status_code == 303
    assert "the account &#39;lab&#39; is closed" in _ask(client, "/sign-in", X_Remote_User="lab").text


def test_passwords_are_off_unless_the_settings_allow_them(
    folder: Path, tmp_path: Path, book: AccountBook
) -> None:
    """Then the form is not even there to be sent; with the key, both ways are open."""
    book.add("admin", Role.ADMIN, PASSWORD)
    for accounts, status in (("", 401), ("passwords = true\n", 303)):
        client = _served(folder, tmp_path, accounts=accounts)
        form = {"csrf_token": "", "name": "admin", "password": PASSWORD}
        page = client.get("/sign-in", base_url=ORIGIN)
        assert ('name="password"' in page.text) == bool(accounts)
        if accounts:
            form["csrf_token"] = token_in(client, "/sign-in")
        assert client.post("/sign-in", base_url=ORIGIN, data=form).status_code == status


def test_signing_out_leads_to_a_page_that_signs_nobody_in(
    folder: Path, tmp_path: Path, book: AccountBook
) -> None:
    """The session is ended; the next page begins another one, because the proxy still names the user."""
    assert book
    client = _served(folder, tmp_path)
    _ask(client, X_Remote_User="lab")
    page = _ask(client, "/account", X_Remote_User="lab").text
    token = page.split('name="csrf_token" value="')[1].split('"')[0]
    answer = _ask(client, "/sign-out", form={"csrf_token": token}, X_Remote_User="lab")
    assert answer.location == "/signed-out"
    assert "You are signed out" in _ask(client, "/signed-out", X_Remote_User="lab").text
    assert _ask(client, "/_dash-layout", X_Remote_User="lab").status_code == 401


@pytest.mark.parametrize(
    ("header", "proxies", "said"),
    [
        (HEADER, 0, "needs a reverse proxy that sets the header; set public.proxies"),
        (HEADER.replace("10.1.2.3", "proxy.example"), 1, "'proxy.example' is not an address or network"),
        (HEADER.replace("10.1.2.3", "0.0.0.0/0"), 1, "'0.0.0.0/0' covers every address"),
        (HEADER.replace("X-Remote-User", "X Remote"), 1, "'X Remote' is not the name of a header"),
        (
            HEADER.replace("X-Remote-User", "X-Forwarded-For"),
            1,
            "the header 'X-Forwarded-For' has another use",
        ),
        (HEADER + 'groups = "X-Groups"\n', 1, "'groups' and 'roles' belong together"),
        (HEADER + 'unknown = "admin"\n', 1, "unknown"),
        (HEADER.replace('from = ["10.1.2.3", "fd00::/64"]', "from = []"), 1, "from"),
    ],
)
def test_a_mistake_in_the_settings_is_named(
    folder: Path, tmp_path: Path, header: str, proxies: int, said: str
) -> None:
    """With the key it is in; the server does not start."""
    with pytest.raises(CorrelateError, match=r"server\.toml") as refusal:
        _served(folder, tmp_path, header, proxies=proxies)
    assert said in str(refusal.value)
