"""Sign-in by a header that a reverse proxy sets."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address, ip_network
from typing import TYPE_CHECKING, Any, Final

from flask import request

from correlate import CorrelateError
from dashboard.access.gate import ASSETS, PAGES
from dashboard.accounts.book import plain_name, valid_name
from dashboard.signing_in.outside import admitted, kind_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from dashboard.access import Account
    from dashboard.account_settings import HeaderTable
    from dashboard.signing_in.services import Services

BELIEVED: Final = "correlate.header"
"""Key of a trusted header in the WSGI environment; no request can set it."""

BY: Final = "header"
"""Of sessions that were started by the header."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a proxy says of a user.

    Attributes
    ----------
    name
        Of the user.
    groups
        Of the user.
    """

    name: str
    groups: frozenset[str]


class HeaderOfProxy:
    """Passes the header on if the proxy sent it, and removes it in any case.

    It is the outermost layer, because only there is the address that of the direct peer: the next layer puts
    the address of the browser in its place.
    """

    def __init__(self, application: Callable[..., Iterable[bytes]], table: HeaderTable) -> None:
        self._application = application
        self._name = _in_environment(table.name)
        self._groups = _in_environment(table.groups) if table.groups else ""
        self._networks = [ip_network(sender) for sender in table.senders]

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        """Answer a request."""
        name, groups = environ.pop(self._name, ""), environ.pop(self._groups, "")
        if name and self._from_proxy(environ.get("REMOTE_ADDR", "")):
            environ[BELIEVED] = Told(
                _text(name), frozenset(filter(None, map(str.strip, _text(groups).split(","))))
            )
        return self._application(environ, start_response)

    def _from_proxy(self, peer: str) -> bool:
        try:
            address = ip_address(peer)
        except ValueError:
            return False
        if isinstance(address, IPv6Address) and address.ipv4_mapped is not None:
            address = address.ipv4_mapped
        return any(address in network for network in self._networks)


def _in_environment(header: str) -> str:
    return f"HTTP_{header.upper().replace('-', '_')}"


def _text(value: str) -> str:
    """Return the text of a header, which WSGI passes on byte by byte."""
    return value.encode("latin-1", errors="replace").decode("utf-8", errors="replace")


@dataclass(frozen=True, slots=True)
class HeaderSignIn:
    """Says who is signed in where the header decides.

    Attributes
    ----------
    services
        Accounts and sessions.
    table
        Settings.
    stays_out
        Endpoints that sign nobody in, such as the page after signing out.
    """

    services: Services
    table: HeaderTable
    stays_out: frozenset[str]

    def account(self) -> Account | None:
        """Return the account behind a request: that of the header, else of another sign-in."""
        sessions = self.services.sessions
        present, told = sessions.present(), request.environ.get(BELIEVED)
        if present is not None and sessions.by() == BY and not self._is_of(told, present.known.account):
            sessions.end("the proxy names another user")
            present = None
        if present is None and told is not None and self._signs_in():
            self._sign_in(told)
        return sessions.account()

    def refusal(self) -> str:
        """Return the sentence for somebody whom the header does not sign in."""
        told = request.environ.get(BELIEVED)
        if told is None and self.services.settings.take_passwords:
            return ""
        if told is None:
            return (
                "Your organisation did not sign you in. Sign in there, then open this server at its public "
                "address."
            )
        try:
            self._known(told)
        except CorrelateError as error:
            return f"You cannot sign in: {error}. Ask the administrator of this server."
        return ""

    def _is_of(self, told: Told | None, account: Account) -> bool:
        """Say whether a header still names an account, in its role."""
        if told is None or plain_name(told.name) != account.name:
            return False
        role = self.table.role_of(told.groups) or self.table.role_of_unknown
        return not self.table.roles or role == account.role

    def _signs_in(self) -> bool:
        """Say whether a request starts a session: pages and downloads do, what a page asks for does not."""
        endpoint = request.endpoint or ""
        return (
            request.method == "GET"
            and endpoint not in self.stays_out | {ASSETS}
            and (endpoint in PAGES or not endpoint.startswith("/_dash"))
        )

    def _sign_in(self, told: Told) -> None:
        try:
            known = self._known(told)
        except CorrelateError as error:
            self.services.count(told.name, f"was refused by the header of the proxy ({kind_of(error)})")
            return
        self.services.sessions.start(known, by=BY)
        self.services.note(known.name, "signed in", "by the header of the proxy")

    def _known(self, told: Told) -> Any:
        return admitted(self.services, self.table, name=valid_name(told.name), groups=told.groups)
