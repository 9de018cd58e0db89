"""Sign-in with an identity provider: OpenID Connect, authorization code with PKCE, state and nonce."""

from __future__ import annotations

import time
from contextlib import suppress
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

import requests
from authlib.common.errors import AuthlibBaseError
from authlib.integrations.base_client.errors import MismatchingStateError, OAuthError
from authlib.integrations.flask_client import FlaskIntegration
from authlib.integrations.flask_client.apps import FlaskOAuth2App
from flask import request, session
from joserfc.errors import JoseError

from correlate import CorrelateError
from dashboard.account_settings import may_be_asked
from dashboard.accounts import Identity
from dashboard.accounts.book import valid_name
from dashboard.signing_in.outside import NotAdmittedError, admitted, kind_of
from dashboard.signing_in.pages import PATHS, own_path
from dashboard.signing_in.passwords import sign_in_page

if TYPE_CHECKING:
    from dashboard.account_settings import ProviderTable
    from dashboard.signing_in.services import Services

BY: Final = "provider"
"""Of sessions that were started with the provider."""

LEEWAY_S: Final = 60
"""By which the clocks of provider and server may differ."""

WAIT_S: Final = 5
"""For an answer of the provider."""

_REREAD_S: Final = 3600
"""After which addresses and keys of the provider are read again: a withdrawn key is no longer valid."""

_REST_S: Final = 10
"""After a failure, for which the provider is not asked again, so that waiting requests do not pile up."""

_NAME: Final = "provider"
_WANTED: Final = "wanted"
_LONGEST_SUBJECT: Final = 255
"""Characters, as OpenID Connect Core 1.0 says (section 2)."""

_ERRORS: Final = frozenset(
    {
        "access_denied",
        "invalid_client",
        "invalid_grant",
        "invalid_request",
        "invalid_scope",
        "login_required",
        "server_error",
        "temporarily_unavailable",
        "unauthorized_client",
    }
)
"""Codes that the audit trail repeats (RFC 6749, 4.1.2.1 and 5.2; OpenID Connect Core 1.0, 3.1.2.6)."""

_USED: Final = ("authorization_endpoint", "token_endpoint", "jwks_uri", "end_session_endpoint")

_DOWN: Final = "The identity provider does not answer. Try again later, or ask the administrator."
_NOT_BEGUN: Final = "This sign-in was not started in this browser. Start again on this page."
_FAILED: Final = (
    "Signing in with your organisation failed. Try again, or ask the administrator of this server."
)


class ProviderError(Exception):
    """An answer of the provider that cannot be trusted."""


class _Client(FlaskOAuth2App):  # type: ignore[misc]  # the library has no types
    """The client of the library, with a strict reading of the settings that the provider publishes.

    The library would take every key of the provider's document for a setting of its own, accept the
    algorithms that the document lists, and read it only once.
    """

    def __init__(self, table: ProviderTable, client_secret: str) -> None:
        scopes = " ".join(dict.fromkeys(("openid", *table.scopes)))
        super().__init__(
            FlaskIntegration(_NAME),
            name=_NAME,
            client_id=table.client_id,
            client_secret=client_secret,
            client_kwargs={"scope": scopes, "code_challenge_method": "S256", "default_timeout": WAIT_S},
        )
        self._table = table
        self._lock = Lock()
        self._read = self._failed = -float("inf")
        self._told: dict[str, Any] = {}

    def load_server_metadata(self) -> dict[str, Any]:
        """Return the settings that the provider publishes."""
        with self._lock:
            now = time.monotonic()
            if now - self._read < _REREAD_S:
                return self._told
            if now - self._failed < _REST_S:
                raise requests.ConnectionError("the provider did not answer a moment ago")
            try:
                # The library keeps the keys in there, too; they are read again with the rest.
                self._told = self.server_metadata = self._checked(self._asked())
            except (requests.RequestException, ProviderError):
                self._failed = time.monotonic()
                raise
            self._read = time.monotonic()
            return self._told

    def _asked(self) -> Any:
        url = f"{self._table.issuer.rstrip('/')}/.well-known/openid-configuration"
        with self._get_session() as asking:
            answer = asking.request("GET", url, withhold_token=True)
        answer.raise_for_status()
        return answer.json()

    def _checked(self, told: Any) -> dict[str, Any]:
        if not isinstance(told, dict) or told.get("issuer") != self._table.issuer:
            raise ProviderError(f"the document of the provider does not name {self._table.issuer} as issuer")
        used = {key: told[key] for key in _USED if key in told}
        if missing := [key for key in _USED[:3] if key not in used]:
            raise ProviderError(f"the document of the provider lacks {missing[0]}")
        for key, address in used.items():
            if not isinstance(address, str) or not may_be_asked(address):
                raise ProviderError(f"the {key} of the provider is not encrypted")
        return used | {
            "issuer": self._table.issuer,
            "id_token_signing_alg_values_supported": [self._table.algorithm],
            "names_itself": told.get("authorization_response_iss_parameter_supported") is True,
        }


@dataclass(frozen=True, slots=True)
class ProviderSignIn:
    """The routes.

    Attributes
    ----------
    services
        Accounts and sessions.
    table
        Settings.
    client
        Of the library.
    origin
        Public address of this server.
    """

    services: Services
    table: ProviderTable
    client: _Client
    origin: str

    def begin(self) -> Any:
        """Send the browser to the provider."""
        wanted = own_path(request.args.get("next"))
        _forget_begun()
        try:
            answer = self.client.authorize_redirect(f"{self.origin}{PATHS.answer}")
        except (requests.RequestException, ProviderError, ValueError) as error:
            return self._down(error)
        session[_WANTED] = wanted
        return answer

    def answered(self) -> Any:
        """Check the answer of the provider, which the browser carries."""
        wanted = own_path(session.get(_WANTED))
        try:
            known = self._admitted(self._claims())
        except MismatchingStateError:
            # The sign-in that this browser started may continue.
            self._count("returned an answer of the identity provider that was not requested")
            return sign_in_page(self.services, wanted, _NOT_BEGUN), 400
        except (requests.RequestException, OSError) as error:
            return self._down(error)
        except CorrelateError as error:
            said = f"You cannot sign in: {error}. Ask the administrator of this server."
            return self._refused(wanted, said, 403)
        except (AuthlibBaseError, JoseError, ProviderError, ValueError, RuntimeError) as error:
            self._count(f"could not sign in with the identity provider ({_cause(error)})")
            return self._refused(wanted, _FAILED, 400)
        return self.services.finish(known, wanted, by=BY, about="with the identity provider")

    def onward(self) -> str:
        """Return the address where one signs out of the provider, too; empty if it has none."""
        with suppress(requests.RequestException, ProviderError, RuntimeError, ValueError):
            return str(
                self.client.create_logout_url(
                    post_logout_redirect_uri=f"{self.origin}{PATHS.signed_out}",
                    client_id=self.table.client_id,
                )["url"]
            )
        return ""

    def _claims(self) -> dict[str, Any]:
        """Return the verified claims of the ID token."""
        if self.client.framework.get_state_data(session, request.args.get("state", "")) is None:
            # Checked first: the library would process an error before, which anybody can put into a link.
            raise MismatchingStateError
        told = self.client.load_server_metadata()
        issuer = request.args.get("iss")
        if issuer != self.table.issuer and (issuer is not None or told["names_itself"]):
            raise ProviderError("the answer comes from another issuer")
        must_be = {
            "iss": {"essential": True, "value": self.table.issuer},
            # Left to itself, the library accepts a token for another client that names this one as `azp`.
            "aud": {"essential": True, "value": self.table.client_id},
        }
        token = self.client.authorize_access_token(claims_options=must_be, leeway=LEEWAY_S)
        claims = token.get("userinfo")
        if claims is None:
            raise ProviderError("the answer contains no ID token")
        return dict(claims)

    def _admitted(self, claims: dict[str, Any]) -> Any:
        subject, name = claims.get("sub"), claims.get(self.table.name_claim)
        if not isinstance(subject, str) or not 0 < len(subject) <= _LONGEST_SUBJECT:
            raise ProviderError("the subject is not a text of 1 to 255 characters")
        identity = Identity(self.table.issuer, subject)
        try:
            return admitted(
                self.services,
                self.table,
                name=self._name_for(identity, name),
                groups=self._groups(claims),
                identity=identity,
            )
        except CorrelateError as error:
            self.services.count(
                name if isinstance(name, str) else "", f"was refused as subject {subject} ({kind_of(error)})"
            )
            raise

    def _name_for(self, identity: Identity, name: object) -> str:
        """Return the name of an account that is linked, or may be added."""
        known = self.services.book.find_identity(identity)
        if known is not None:
            return known.name
        if not isinstance(name, str):
            raise NotAdmittedError(
                f"the identity provider sent no user name as '{self.table.name_claim}'", "no name"
            )
        plain = valid_name(name)
        if self.services.book.find(plain) is not None:
            # A name proves nothing: the provider may let people choose it.
            raise NotAdmittedError(f"the account '{plain}' is not linked to your identity", "not linked")
        return plain

    def _groups(self, claims: dict[str, Any]) -> frozenset[str]:
        found = claims.get(self.table.roles_claim) if self.table.roles_claim else None
        listed = [found] if isinstance(found, str) else found if isinstance(found, list) else []
        return frozenset(group for group in listed if isinstance(group, str))

    def _count(self, what: str) -> None:
        """Count for the trail what anybody may do without end: nobody has proved who they are."""
        self.services.count("", what)

    def _down(self, error: Exception) -> Any:
        self._count(f"could not reach the identity provider ({_cause(error)})")
        return self._refused(own_path(session.get(_WANTED)), _DOWN, 503)

    def _refused(self, wanted: str, said: str, status: int) -> Any:
        """Answer with a sentence; the sign-in starts again, its state is no longer valid."""
        _forget_begun()
        return sign_in_page(self.services, wanted, said), status


def _cause(error: Exception) -> str:
    """Return the reason for the administrator, without what the browser or the provider wrote freely."""
    if isinstance(error, OAuthError):
        return error.error if error.error in _ERRORS else "an error of the provider"
    known = isinstance(error, ProviderError | JoseError)
    return f"{type(error).__name__}: {error}" if known else type(error).__name__


def _forget_begun() -> None:
    """Keep at most one unfinished sign-in per browser: a cookie holds little."""
    for key in [key for key in session if key.startswith(f"_state_{_NAME}_")]:
        session.pop(key)


def provider_sign_in(
    services: Services, table: ProviderTable, client_secret: str, origin: str
) -> ProviderSignIn:
    """Return the routes of sign-in with a provider."""
    return ProviderSignIn(services, table, _Client(table, client_secret), origin.rstrip("/"))
