"""The part of ``server.toml`` that says how people sign in."""

from __future__ import annotations

import re
from ipaddress import ip_network
from typing import Annotated, Final, Literal, Self
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from correlate.toml import Table
from dashboard.access import Role

Text = Annotated[str, Field(min_length=1)]

RoleName = Literal["viewer", "manager", "analyst", "lab", "admin"]

RoleOrRefusal = Literal["refuse", "viewer", "manager", "analyst", "lab"]
"""Nobody becomes an admin without being named as one."""

EVERY_ROLE: Final[tuple[RoleName, ...]] = ("viewer", "manager", "analyst", "lab", "admin")

_HEADER: Final = re.compile(r"[A-Za-z][A-Za-z0-9-]*")


_TAKEN: Final = frozenset(
    {"authorization", "content-type", "cookie", "host", "origin", "referer", "x-csrftoken"}
) | {f"x-forwarded-{part}" for part in ("for", "host", "port", "prefix", "proto")}
"""Headers that browsers, proxies and this server use for something else."""


class _OutsideTable(Table):
    """What a server accepts of people whose identity another program proves."""

    roles: Annotated[dict[Text, RoleName], Field(default_factory=dict)]
    unknown: RoleOrRefusal = "refuse"

    def role_of(self, groups: frozenset[str]) -> Role | None:
        """Return the highest role that groups give; None where they give none."""
        order = list(Role)
        found = [Role(role) for group, role in self.roles.items() if group in groups]
        return max(found, key=order.index, default=None)

    @property
    def role_of_unknown(self) -> Role | None:
        """Role of whoever gets none by a group; None where such people are refused."""
        return None if self.unknown == "refuse" else Role(self.unknown)


class HeaderTable(_OutsideTable):
    """Sign-in by a header that a reverse proxy sets.

    Attributes
    ----------
    name
        Name of the header with the user name, such as ``X-Remote-User``.
    from
        Addresses or networks of the trusted proxies, which connect directly to this server.
    groups
        Name of the header with the groups of the user, separated by commas; empty when there is none.
    roles
        Role of each group, applied at every request; the highest role counts.
    unknown
        Role of a user without an account, and of one whose groups give no role; ``refuse`` refuses both.
    """

    name: Text
    senders: Annotated[tuple[Text, ...], Field(alias="from", min_length=1)]
    groups: str = ""

    @field_validator("name", "groups")
    @classmethod
    def _is_a_header(cls, name: str) -> str:
        if name and not _HEADER.fullmatch(name):
            raise ValueError(f"'{name}' is not the name of a header; use letters, digits and -")
        if name.lower() in _TAKEN:
            raise ValueError(f"the header '{name}' has another use; let the proxy set a different one")
        return name

    @field_validator("senders")
    @classmethod
    def _are_addresses(cls, senders: tuple[str, ...]) -> tuple[str, ...]:
        for sender in senders:
            try:
                network = ip_network(sender)
            except ValueError:
                message = f"'{sender}' is not an address or network; use for instance 127.0.0.1"
                raise ValueError(message) from None
            if network.prefixlen == 0:
                raise ValueError(f"'{sender}' covers every address; name only those of the proxies")
        return senders

    @model_validator(mode="after")
    def _roles_have_groups(self) -> Self:
        if bool(self.roles) != bool(self.groups):
            raise ValueError("'groups' and 'roles' belong together; set both or neither")
        return self


class ProviderTable(_OutsideTable):
    """Sign-in with an identity provider (OpenID Connect).

    Attributes
    ----------
    issuer
        Address of the provider, exactly as in its metadata.
    client_id
        Identifier of this server at the provider.
    client_secret_file
        File with the secret of this server at the provider, readable only by its owner.
    scopes
        Scopes that are requested in addition to ``openid``.
    algorithm
        Algorithm with which the provider signs; a token signed with another one is refused.
    name_claim
        Claim that becomes the name of a new account.
    roles_claim
        Claim with the groups of the user; empty when there is none.
    roles
        Role of each group, applied at every sign-in; the highest role counts.
    unknown
        Role of a user without an account, and of one whose groups give no role; ``refuse`` refuses both.
    """

    issuer: Text
    client_id: Text
    client_secret_file: Text
    scopes: tuple[Text, ...] = ("profile",)
    algorithm: Literal["RS256", "PS256", "ES256", "EdDSA"] = "RS256"
    name_claim: Text = "preferred_username"
    roles_claim: str = ""

    @field_validator("issuer")
    @classmethod
    def _is_encrypted(cls, issuer: str) -> str:
        parts = urlsplit(issuer)
        if not may_be_asked(issuer) or parts.query or parts.fragment or parts.username:
            raise ValueError(f"'{issuer}' is not an https:// address without user name, ? and #")
        return issuer

    @model_validator(mode="after")
    def _roles_have_a_claim(self) -> Self:
        if bool(self.roles) != bool(self.roles_claim):
            raise ValueError("'roles_claim' and 'roles' belong together; set both or neither")
        return self


def may_be_asked(url: str) -> bool:
    """Say whether an address of a provider is encrypted, or on this machine for trying it out.

    Examples
    --------
    >>> may_be_asked("https://id.example/realm"), may_be_asked("http://id.example"), may_be_asked("file:///x")
    (True, False, False)
    """
    if not url.isascii() or not url.isprintable() or " " in url:
        return False
    parts = urlsplit(url)
    trying = parts.scheme == "http" and parts.hostname in {"localhost", "127.0.0.1"}
    return bool(parts.hostname) and (parts.scheme == "https" or trying)


class AccountsTable(Table):
    """Accounts and sessions.

    Attributes
    ----------
    database
        File, or ``postgresql://USER@HOST/DATABASE``.
    session_hours
        Longest duration of a session.
    idle_minutes
        Minutes without activity after which a session ends.
    secret_key_file
        Holds the key that sessions are signed with; empty when the environment holds it.
    passwords
        Whether passwords are accepted. By default they are, except with ``[accounts.header]`` or
        ``[accounts.provider]``.
    second_factor
        Whether a second factor is ``offered`` to or ``required`` from users who sign in with a password.
    second_factor_roles
        Roles for which it is required.
    header
        Sign-in by a header of a proxy.
    provider
        Sign-in with an identity provider.
    """

    database: Text = "accounts.sqlite"
    session_hours: Annotated[float, Field(gt=0, le=24 * 30)] = 12
    idle_minutes: Annotated[float, Field(ge=1, le=24 * 30 * 60)] = 60
    secret_key_file: str = ""
    passwords: bool | None = None
    second_factor: Literal["offered", "required"] = "offered"
    second_factor_roles: Annotated[tuple[RoleName, ...], Field(min_length=1)] = EVERY_ROLE
    header: HeaderTable | None = None
    provider: ProviderTable | None = None

    @property
    def take_passwords(self) -> bool:
        """Whether there is a form for a name and a password."""
        if self.passwords is None:
            return self.header is None and self.provider is None
        return self.passwords

    def requires_second_factor(self, role: Role) -> bool:
        """Say whether people with a role need a second factor beside their password."""
        return self.second_factor == "required" and role.value in self.second_factor_roles

    @model_validator(mode="after")
    def _one_way_in(self) -> Self:
        if self.header is not None and self.provider is not None:
            raise ValueError("set [accounts.header] or [accounts.provider], not both")
        if not self.take_passwords and self.header is None and self.provider is None:
            raise ValueError(
                "without passwords nobody can sign in; set [accounts.header] or [accounts.provider]"
            )
        return self
