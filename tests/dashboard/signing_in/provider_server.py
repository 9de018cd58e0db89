"""An identity provider of the tests: real HTTP on this machine, and every lie that a test wants."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import RSAKey
from joserfc.jws import JWSRegistry

if TYPE_CHECKING:
    from collections.abc import Iterator

CLIENT = "ratings"
SECRET = "the secret of the tests"  # noqa: S105 - of a provider that lives for one test


@cache
def new_key(name: str, number: int = 1) -> RSAKey:
    """Return a key with a name; another number is another key."""
    assert number
    return RSAKey.generate_key(2048, {"kid": name, "use": "sig"}, auto_kid=False)


@dataclass
class TestProvider:
    """Answers as a provider does; a test changes what it says.

    Attributes
    ----------
    url
        Of the provider, which is its issuer.
    person
        Claims of who signs in.
    claims
        Put over those of the ID token; None removes one.
    document
        Put over what the provider says of itself.
    algorithm
        With which it signs; ``none`` and ``HS256`` are attacks.
    key
        It signs with.
    codes
        Given and not used: to challenge, nonce and address.
    requests
        Paths that were asked for.
    """

    __test__ = False

    url: str = ""
    person: dict[str, Any] = field(default_factory=lambda: {"sub": "8f2e", "preferred_username": "lab"})
    claims: dict[str, Any] = field(default_factory=dict)
    document: dict[str, Any] = field(default_factory=dict)
    answer: dict[str, Any] = field(default_factory=dict)
    algorithm: str = "RS256"
    key: RSAKey = field(default_factory=lambda: new_key("first"))
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    requests: list[str] = field(default_factory=list)

    def authorize(self, location: str) -> dict[str, str]:
        """Sign in the person who was sent here; return what the browser brings back."""
        asked = {key: values[0] for key, values in parse_qs(urlsplit(location).query).items()}
        assert asked["response_type"] == "code"
        assert asked["client_id"] == CLIENT
        assert asked["code_challenge_method"] == "S256"
        code = f"code-{len(self.codes)}-{time.monotonic_ns()}"
        self.codes[code] = asked
        return {"code": code, "state": asked["state"]}

    def token(self, form: dict[str, str], authorization: str) -> tuple[int, dict[str, Any]]:
        """Exchange a code, once, for whoever has the verifier and the secret of the client."""
        expected = base64.b64encode(f"{CLIENT}:{SECRET}".encode()).decode()
        asked = self.codes.pop(form.get("code", ""), None)
        verifier = form.get("code_verifier", "").encode()
        challenge = base64.urlsafe_b64encode(hashlib.sha256(verifier).digest()).rstrip(b"=").decode()
        if authorization.removeprefix("Basic ") != expected:
            return 401, {"error": "invalid_client"}
        if (
            asked is None
            or asked["code_challenge"] != challenge
            or asked["redirect_uri"] != form["redirect_uri"]
        ):
            return 400, {"error": "invalid_grant"}
        body: dict[str, Any] = {
            "access_token": "opaque",
            "token_type": "Bearer",
            "id_token": self.id_token(asked),
        }
        return 200, {key: value for key, value in (body | self.answer).items() if value is not None}

    def id_token(self, asked: dict[str, str]) -> str:
        """Return the ID token."""
        now = int(time.time())
        honest = {"iss": self.url, "aud": CLIENT, "iat": now, "exp": now + 300, "nonce": asked["nonce"]}
        claims = {
            key: value for key, value in (honest | self.person | self.claims).items() if value is not None
        }
        if self.algorithm == "none":
            head = _part({"alg": "none", "kid": self.key.kid})
            return f"{head}.{_part(claims)}."
        if self.algorithm == "HS256":
            signed = f"{_part({'alg': 'HS256', 'kid': self.key.kid})}.{_part(claims)}"
            public = self.key.as_pem(private=False)
            return f"{signed}.{_encoded(hmac.digest(public, signed.encode(), 'sha256'))}"
        registry = JWSRegistry(algorithms=[self.algorithm])
        return jwt.encode({"alg": self.algorithm, "kid": self.key.kid}, claims, self.key, registry=registry)

    def told(self) -> dict[str, Any]:
        """Return what the provider says of itself."""
        honest = {
            "issuer": self.url,
            "authorization_endpoint": f"{self.url}/authorize",
            "token_endpoint": f"{self.url}/token",
            "jwks_uri": f"{self.url}/keys",
            "id_token_signing_alg_values_supported": ["RS256", "none", "HS256"],
        }
        return {key: value for key, value in (honest | self.document).items() if value is not None}


def _part(value: dict[str, Any]) -> str:
    return _encoded(json.dumps(value).encode())


def _encoded(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


@contextmanager
def provider_server() -> Iterator[TestProvider]:
    """Run a provider on a free port of this machine."""
    provider = TestProvider()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            provider.requests.append(self.path)
            if self.path == "/.well-known/openid-configuration":
                self._answer(200, provider.told())
            elif self.path == "/keys":
                self._answer(200, {"keys": [provider.key.as_dict(private=False)]})
            elif self.path.startswith("/authorize?"):
                asked = parse_qs(urlsplit(self.path).query)
                self._lead(f"{asked['redirect_uri'][0]}?{urlencode(provider.authorize(self.path))}")
            elif self.path.startswith("/logout?"):
                self._lead(parse_qs(urlsplit(self.path).query)["post_logout_redirect_uri"][0])
            else:
                self._answer(404, {})

        def do_POST(self) -> None:
            provider.requests.append(self.path)
            raw = self.rfile.read(int(self.headers["Content-Length"])).decode()
            form = {key: values[0] for key, values in parse_qs(raw).items()}
            self._answer(*provider.token(form, self.headers.get("Authorization", "")))

        def log_message(self, *_: object) -> None:
            pass

        def _lead(self, onward: str) -> None:
            self.send_response(302)
            self.send_header("Location", onward)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def _answer(self, status: int, body: dict[str, Any]) -> None:
            sent = json.dumps(body).encode()
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(sent)))
            self.end_headers()
            self.wfile.write(sent)

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    provider.url = f"http://127.0.0.1:{server.server_port}"
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield provider
    finally:
        server.shutdown()
        server.server_close()


def back(answer: dict[str, str]) -> str:
    """Return the address that a browser asks for when it comes back."""
    return f"/sign-in/provider/answer?{urlencode(answer)}"
