"""Sign-in with an identity provider, over real HTTP, and each attack on it."""

from __future__ import annotations

import socket
import time
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

import pytest

from correlate import CorrelateError
from dashboard.access import Role
from dashboard.account_settings import AccountsTable, ProviderTable
from dashboard.accounts import AccountBook, AuditTrail, Identity
from dashboard.server_settings import load_settings
from tests.dashboard.served import CHEAP, ORIGIN, asked, sign_in, small_app, token_in, with_accounts
from tests.dashboard.signing_in.provider_server import (
    CLIENT,
    SECRET,
    TestProvider,
    back,
    new_key,
    provider_server,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask.testing import FlaskClient
    from sqlalchemy import Engine
    from werkzeug.test import TestResponse


FAILED = "Signing in with your organisation failed."


@pytest.fixture
def provider() -> Iterator[TestProvider]:
    """Run a provider that says the truth, until a test changes that."""
    with provider_server() as provider:
        yield provider


class Server:
    """A server that signs in with the provider."""

    def __init__(self, provider: TestProvider, folder: Path, accounts: dict[str, Any], **rules: Any) -> None:
        told = {"issuer": provider.url, "client_id": CLIENT, "client_secret_file": "client.secret"}
        table = ProviderTable.model_validate(told | rules)
        self.app = small_app()
        settings = AccountsTable(provider=table, **accounts)
        self.engine: Engine = with_accounts(self.app, folder, settings, client_secret=SECRET)
        self.book = AccountBook(self.engine, passwords=CHEAP)
        self.book.link("lab", Identity(provider.url, "8f2e"))

    def browser(self) -> FlaskClient:
        """Return a browser that is not signed in."""
        return self.app.server.test_client()  # type: ignore[no-any-return]

    def said(self) -> list[str]:
        """Return the lines of the trail, and then what is counted."""
        trail = AuditTrail(self.engine)
        lines = [f"{one.who}: {one.what}; {one.about}" for one in trail.last(20)]
        return lines + [f"{one.who}: {one.what}; {one.times}" for one in trail.counted()]


@pytest.fixture
def server(provider: TestProvider, tmp_path: Path) -> Server:
    """Return a server with the account lab, which is linked to the person of the provider."""
    return Server(provider, tmp_path, {})


def _begun(client: FlaskClient, wanted: str = "/repeats") -> str:
    """Return where the server sends a browser that wants to sign in."""
    answer = asked(client, "GET", f"/sign-in/provider?next={wanted}")
    assert answer.status_code == 302, answer.text[-400:]
    return answer.location


def _signed_in(client: FlaskClient, provider: TestProvider, wanted: str = "/repeats") -> TestResponse:
    return asked(client, "GET", back(provider.authorize(_begun(client, wanted))))


def _open(client: FlaskClient) -> bool:
    return asked(client, "GET", "/_dash-layout").status_code == 200


def test_the_provider_signs_in_and_the_wanted_page_follows(server: Server, provider: TestProvider) -> None:
    """With state, nonce and a challenge in the address, which is that of the settings."""
    client = server.browser()
    page = asked(client, "GET", "/sign-in?next=/repeats").text
    assert 'href="/sign-in/provider?next=/repeats"' in page
    assert 'name="password"' not in page
    location = _begun(client)
    sent = parse_qs(urlsplit(location).query)
    assert location.startswith(f"{provider.url}/authorize?")
    assert sent["redirect_uri"] == [f"{ORIGIN}/sign-in/provider/answer"]
    assert set(sent["scope"][0].split()) == {"openid", "profile"}
    assert {"state", "nonce", "code_challenge"} <= set(sent)
    answer = asked(client, "GET", back(provider.authorize(location)))
    assert (answer.status_code, answer.location) == (303, "/repeats")
    assert "lab, role lab" in asked(client, "GET", "/account").text
    assert server.said()[-1] == "lab: signed in; with the identity provider"


NOW = int(time.time())


@pytest.mark.parametrize(
    ("claims", "cause"),
    [
        ({"nonce": "another"}, "Invalid claim: 'nonce'"),
        ({"nonce": None}, "Missing claim: 'nonce'"),
        ({"aud": "another"}, "Invalid claim: 'aud'"),
        ({"aud": ["another"], "azp": CLIENT}, "Invalid claim: 'aud'"),
        ({"aud": "another", "azp": CLIENT}, "Invalid claim: 'aud'"),
        ({"aud": [CLIENT, "another"], "azp": "another"}, "Invalid claim: 'azp'"),
        ({"aud": None}, "Missing claim: 'aud'"),
        ({"exp": NOW - 120}, "expired"),
        ({"exp": None}, "Missing claim: 'exp'"),
        ({"iat": NOW + 3600, "exp": NOW + 7200}, "issued in the future"),
        ({"nbf": NOW + 3600}, "not yet valid"),
        ({"iss": "https://elsewhere.example"}, "Invalid claim: 'iss'"),
        ({"iss": None}, "Missing claim: 'iss'"),
        ({"sub": None}, "Missing claim: 'sub'"),
        ({"sub": ""}, "the subject is not a text of 1 to 255 characters"),
        ({"sub": 8}, "'sub' must be a StringOrURI"),
        ({"sub": "8f2e" * 64}, "the subject is not a text of 1 to 255 characters"),
    ],
    ids=lambda value: value if isinstance(value, str) else "+".join(value),
)
def test_a_token_with_a_wrong_claim_is_refused(
    server: Server, provider: TestProvider, claims: dict[str, Any], cause: str
) -> None:
    """One sentence on the page, one line with the cause in the trail, nobody is signed in."""
    provider.claims = claims
    client = server.browser()
    answer = _signed_in(client, provider)
    assert answer.status_code == 400
    assert FAILED in answer.text
    assert not _open(client)
    assert server.said()[-1].startswith(": could not sign in with the identity provider (")
    assert cause in server.said()[-1]


@pytest.mark.parametrize("algorithm", ["none", "HS256", "PS256", "RS512"])
def test_a_token_that_is_signed_in_another_way_is_refused(
    server: Server, provider: TestProvider, algorithm: str
) -> None:
    """Unsigned, or signed with the public key as a secret, although the provider's document lists both."""
    provider.algorithm = algorithm
    client = server.browser()
    assert _signed_in(client, provider).status_code == 400
    assert not _open(client)
    assert f"Algorithm of '{algorithm}' is not allowed" in server.said()[-1]


def test_a_token_of_another_key_is_refused(server: Server, provider: TestProvider) -> None:
    """Of the name of the provider's key, but another one."""
    client = server.browser()
    _signed_in(client, provider)
    provider.key = new_key("first", 2)
    other = server.browser()
    assert _signed_in(other, provider).status_code == 400
    assert not _open(other)


def test_a_new_key_of_the_provider_is_read_at_once(server: Server, provider: TestProvider) -> None:
    """Providers change their keys without notice."""
    assert _signed_in(server.browser(), provider).status_code == 303
    provider.key = new_key("second")
    assert _signed_in(server.browser(), provider).status_code == 303


@pytest.mark.parametrize("changed", [{}, {"state": "made up"}, {"state": ""}])
def test_the_answer_of_another_browser_is_refused(
    server: Server, provider: TestProvider, changed: dict[str, str]
) -> None:
    """Nobody is signed in to the account of a stranger by following a link; such links fill no trail."""
    victim, attacker = server.browser(), server.browser()
    answer = provider.authorize(_begun(attacker)) | changed
    _begun(victim)
    response = asked(victim, "GET", back(answer))
    assert response.status_code == 400
    assert "This sign-in was not started in this browser." in response.text
    assert not _open(victim)
    assert server.said() == [
        ": returned an answer of the identity provider that was not requested; 1 attempt"
    ]


def test_an_answer_counts_once(server: Server, provider: TestProvider) -> None:
    """The same address again, in the same browser, after signing out."""
    client = server.browser()
    answer = provider.authorize(_begun(client))
    kept = client.get_cookie("__Host-correlate", domain="ratings.example")
    assert kept is not None
    assert asked(client, "GET", back(answer)).status_code == 303
    asked(client, "POST", "/sign-out", data={"csrf_token": token_in(client, "/account")})
    assert asked(client, "GET", back(answer)).status_code == 400
    assert not _open(client)
    # Not even with the cookie of before: the provider gives nothing for a code that was used.
    client.set_cookie("__Host-correlate", kept.value, domain="ratings.example", secure=True)
    assert asked(client, "GET", back(answer)).status_code == 400
    assert not _open(client)


def test_a_code_that_somebody_else_got_is_worth_nothing(server: Server, provider: TestProvider) -> None:
    """It belongs to the challenge of the browser that asked for it."""
    victim, attacker = server.browser(), server.browser()
    stolen = provider.authorize(_begun(victim))["code"]
    own = provider.authorize(_begun(attacker))
    assert asked(attacker, "GET", back(own | {"code": stolen})).status_code == 400
    assert not _open(attacker)


@pytest.mark.parametrize(
    "wanted", ["https://elsewhere.example/", "//elsewhere.example", "/%5Celsewhere.example"]
)
def test_signing_in_leads_nowhere_else(server: Server, provider: TestProvider, wanted: str) -> None:
    """A link that somebody made up ends on the first page of this server."""
    assert _signed_in(server.browser(), provider, wanted).location == "/"


def test_another_issuer_in_the_answer_is_refused(server: Server, provider: TestProvider) -> None:
    """RFC 9207: the answer of another provider is not taken for one of this provider."""
    client = server.browser()
    answer = provider.authorize(_begun(client)) | {"iss": "https://elsewhere.example"}
    assert asked(client, "GET", back(answer)).status_code == 400
    assert not _open(client)


def test_a_provider_that_announces_its_name_must_say_it(provider: TestProvider, tmp_path: Path) -> None:
    """RFC 9207."""
    provider.document = {"authorization_response_iss_parameter_supported": True}
    server = Server(provider, tmp_path, {})
    client = server.browser()
    answer = provider.authorize(_begun(client))
    assert asked(client, "GET", back(answer)).status_code == 400
    answer = provider.authorize(_begun(client)) | {"iss": provider.url}
    assert asked(client, "GET", back(answer)).status_code == 303


@pytest.mark.parametrize(
    "document",
    [
        {"issuer": "https://elsewhere.example"},
        {"issuer": None},
        {"token_endpoint": "http://elsewhere.example/token"},
        {"jwks_uri": None},
        {"authorization_endpoint": "javascript:alert(1)"},
        {"end_session_endpoint": "https://id.example/\r\nSet-Cookie: x=1"},
    ],
    ids=str,
)
def test_a_document_that_is_not_of_the_provider_is_not_used(
    provider: TestProvider, tmp_path: Path, document: dict[str, Any]
) -> None:
    """Another issuer, or an address that is not encrypted."""
    provider.document = document
    server = Server(provider, tmp_path, {})
    answer = asked(server.browser(), "GET", "/sign-in/provider")
    assert answer.status_code == 503
    assert "The identity provider does not answer." in answer.text
    assert "could not reach the identity provider (ProviderError: " in server.said()[-1]


def test_no_key_of_the_document_is_a_setting_of_the_client(provider: TestProvider, tmp_path: Path) -> None:
    """The library would take ``verify`` for the check of certificates, ``scope`` for what is asked for."""
    provider.document = {"verify": False, "scope": "everything", "code_challenge_method": "plain"}
    server = Server(provider, tmp_path, {})
    sent = parse_qs(urlsplit(_begun(server.browser())).query)
    assert sent["code_challenge_method"] == ["S256"]
    assert "everything" not in sent["scope"][0]


def test_a_provider_that_is_down_is_a_sentence(tmp_path: Path) -> None:
    """On the page and in the trail; the next attempts do not wait for it again."""
    with provider_server() as provider:
        pass
    server = Server(provider, tmp_path, {"passwords": True})
    client = server.browser()
    for _ in range(2):
        answer = asked(client, "GET", "/sign-in/provider")
        assert answer.status_code == 503
        assert "The identity provider does not answer." in answer.text
    assert server.said() == [": could not reach the identity provider (ConnectionError); 2 attempts"]
    # With a password, one gets in all the same.
    assert sign_in(client, "admin").status_code == 303


def test_a_provider_that_never_answers_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It takes a connection and says nothing."""
    monkeypatch.setattr("dashboard.signing_in.provider.WAIT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        provider = TestProvider(url=f"http://127.0.0.1:{silent.getsockname()[1]}")
        server = Server(provider, tmp_path, {})
        assert asked(server.browser(), "GET", "/sign-in/provider").status_code == 503
    assert "ReadTimeout" in server.said()[-1]


def test_a_server_without_the_library_says_what_to_install(
    provider: TestProvider, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When it starts, not when somebody signs in."""
    monkeypatch.setattr("correlate.extras.EXTRAS", {"sign-in": ("no_such_module",)})
    with pytest.raises(
        CorrelateError, match=r"needs the extra 'sign-in': pip install 'correlate\[sign-in\]'"
    ):
        Server(provider, tmp_path, {})


def test_a_provider_that_goes_down_in_between_is_a_sentence(provider: TestProvider, tmp_path: Path) -> None:
    """Between leaving and coming back."""
    server = Server(provider, tmp_path, {})
    client = server.browser()
    with provider_server() as short_lived:
        provider.document = {"token_endpoint": f"{short_lived.url}/token"}
        answer = provider.authorize(_begun(client))
    assert asked(client, "GET", back(answer)).status_code == 503
    assert not _open(client)


@pytest.mark.parametrize(
    "answer", [{"id_token": None}, {"id_token": "x"}, {"id_token": "a.b.c"}, {"error": "no"}]
)
def test_an_answer_without_a_token_is_refused(
    server: Server, provider: TestProvider, answer: dict[str, Any]
) -> None:
    """An access token alone says nothing about who it is."""
    provider.answer = answer
    client = server.browser()
    assert _signed_in(client, provider).status_code == 400
    assert not _open(client)


def test_somebody_who_declines_comes_back_to_a_sentence(server: Server, provider: TestProvider) -> None:
    """The words of the provider are not shown: anybody can write them into a link."""
    client = server.browser()
    state = provider.authorize(_begun(client))["state"]
    told = {"error": "access_denied", "error_description": "<b>call 555</b>", "state": state}
    answer = asked(client, "GET", back(told))
    assert answer.status_code == 400
    assert "555" not in answer.text
    assert server.said() == [": could not sign in with the identity provider (access_denied); 1 attempt"]
    # Without a sign-in that was started, it is not even read.
    assert "not started in this browser" in asked(client, "GET", back(told)).text


def test_an_account_belongs_to_the_subject_not_to_the_name(server: Server, provider: TestProvider) -> None:
    """Somebody who calls themselves lab, or has the address of the lab, is not the lab."""
    provider.person = {"sub": "other", "preferred_username": "lab", "email": "lab@example.com"}
    client = server.browser()
    answer = _signed_in(client, provider)
    assert answer.status_code == 403
    assert "the account &#39;lab&#39; is not linked to your identity" in answer.text
    assert not _open(client)
    assert server.said() == ["lab: was refused as subject other (not linked); 1 attempt"]


def test_a_renamed_person_keeps_the_account(server: Server, provider: TestProvider) -> None:
    """The subject stays."""
    provider.person = {"sub": "8f2e", "preferred_username": "somebody.else"}
    assert _signed_in(server.browser(), provider).status_code == 303
    assert server.said()[-1].startswith("lab: signed in")


def test_an_unknown_person_is_refused_or_added(provider: TestProvider, tmp_path: Path) -> None:
    """As the settings say; the new account is linked to the subject."""
    provider.person = {"sub": "new", "preferred_username": "New.Colleague"}
    server = Server(provider, tmp_path, {})
    assert "has no account on this server" in _signed_in(server.browser(), provider).text
    (tmp_path / "other").mkdir()
    server = Server(provider, tmp_path / "other", {}, unknown="viewer")
    assert _signed_in(server.browser(), provider).status_code == 303
    known = server.book.find_identity(Identity(provider.url, "new"))
    assert known is not None
    assert (known.name, known.role, known.has_password) == ("new.colleague", Role.VIEWER, False)


@pytest.mark.parametrize(
    ("groups", "role"), [(["staff", "crash lab"], Role.LAB), ("staff", Role.VIEWER), ([], None), (None, None)]
)
def test_groups_give_the_role(
    provider: TestProvider, tmp_path: Path, groups: object, role: Role | None
) -> None:
    """The highest counts; without any, the person is refused."""
    rules = {"roles_claim": "groups", "roles": {"crash lab": "lab", "staff": "viewer"}}
    server = Server(provider, tmp_path, {}, **rules)
    provider.person["groups"] = groups
    assert _signed_in(server.browser(), provider).status_code == (303 if role else 403)
    known = server.book.find("lab")
    assert known is not None
    assert known.role is (role or Role.LAB)


def test_a_closed_account_stays_closed(server: Server, provider: TestProvider) -> None:
    """Whatever the provider says."""
    server.book.close("lab")
    assert "is closed" in _signed_in(server.browser(), provider).text


def test_signing_out_ends_the_session_and_leads_on(provider: TestProvider, tmp_path: Path) -> None:
    """To the provider if it offers that, and from there back to a page that signs nobody in."""
    provider.document = {"end_session_endpoint": f"{provider.url}/logout"}
    server = Server(provider, tmp_path, {})
    client = server.browser()
    _signed_in(client, provider)
    answer = asked(client, "POST", "/sign-out", data={"csrf_token": token_in(client, "/account")})
    onward = answer.headers["Refresh"].removeprefix("0; url=")
    sent = parse_qs(urlsplit(onward).query)
    assert onward.startswith(f"{provider.url}/logout?")
    assert sent["client_id"] == [CLIENT]
    assert sent["post_logout_redirect_uri"] == [f"{ORIGIN}/signed-out"]
    assert not _open(client)
    assert "You are signed out" in asked(client, "GET", "/signed-out").text


def test_signing_out_ends_the_session_where_the_provider_offers_nothing(
    server: Server, provider: TestProvider
) -> None:
    """A page that says so follows."""
    client = server.browser()
    _signed_in(client, provider)
    answer = asked(client, "POST", "/sign-out", data={"csrf_token": token_in(client, "/account")})
    assert answer.location == "/signed-out"
    assert not _open(client)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("https://id.example", "http://id.example"), "is not an https:// address without user name"),
        (('client_id = "ratings"\n', ""), "client_id: this key is missing"),
        (('"RS256"', '"none"'), "algorithm"),
        (('"RS256"', '"RS256"\nroles = {"a" = "lab"}'), "'roles_claim' and 'roles' belong together"),
    ],
)
def test_a_mistake_in_the_settings_is_named(tmp_path: Path, change: tuple[str, str], said: str) -> None:
    """With the key it is in."""
    with pytest.raises(CorrelateError, match=r"server\.toml") as refusal:
        load_settings(_settings(tmp_path, *change))
    assert said in str(refusal.value)


def test_the_client_secret_is_for_its_owner_alone(tmp_path: Path) -> None:
    """A file that others may read, that is empty or not there, is a sentence."""
    settings = load_settings(_settings(tmp_path, "", ""))
    with pytest.raises(CorrelateError, match="the client secret cannot be read"):
        settings.client_secret()
    file = tmp_path / "client.secret"
    file.write_text("\n")
    file.chmod(0o600)
    with pytest.raises(CorrelateError, match="the client secret is empty"):
        settings.client_secret()
    file.write_text(f"{SECRET}\n")
    assert settings.client_secret() == SECRET
    file.chmod(0o640)
    with pytest.raises(CorrelateError, match="other accounts on this machine can read the client secret"):
        settings.client_secret()


def _settings(folder: Path, before: str, after: str) -> Path:
    (folder / "kelp").mkdir()
    text = (
        'project = "kelp"\n[public]\nurl = "https://ratings.example"\n[accounts.provider]\n'
        'issuer = "https://id.example"\nclient_id = "ratings"\nclient_secret_file = "client.secret"\n'
        'algorithm = "RS256"\n'
    )
    file = folder / "server.toml"
    file.write_text(text.replace(before, after) if before else text)
    return file
