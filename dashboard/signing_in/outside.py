"""Accounts of people whose identity another program proves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate import CorrelateError

if TYPE_CHECKING:
    from dashboard.account_settings import HeaderTable, ProviderTable
    from dashboard.accounts import Identity, KnownAccount
    from dashboard.signing_in.services import Services


class NotAdmittedError(CorrelateError):
    """Somebody whose identity is proved, but who may not sign in.

    Parameters
    ----------
    what
        Sentence for the person.
    kind
        The reason in a few words that are the same for everybody, by which the audit trail counts.
    """

    def __init__(self, what: str, kind: str) -> None:
        super().__init__(what)
        self.kind = kind


def kind_of(error: CorrelateError) -> str:
    """Return the reason of a refusal in a few words."""
    return error.kind if isinstance(error, NotAdmittedError) else "no valid name"


def admitted(
    services: Services,
    rules: HeaderTable | ProviderTable,
    *,
    name: str,
    groups: frozenset[str],
    identity: Identity | None = None,
) -> KnownAccount:
    """Return the account of somebody, added or changed as the rules say.

    With an identity, only the account that is linked to it is theirs: a provider may let its users choose
    any name.

    Raises
    ------
    NotAdmittedError
        There is no account and none is added, it is closed, or no group gives a role.
    """
    known = services.book.find(name) if identity is None else services.book.find_identity(identity)
    role = rules.role_of(groups) or rules.role_of_unknown
    if known is None:
        if rules.unknown == "refuse" or role is None:
            raise NotAdmittedError(f"'{name}' has no account on this server", "no account")
        services.book.add(name, role, None, identity=identity)
        services.note(name, f"got a new account, role {role.value}", _about(identity))
        return _present(services, name)
    if known.closed:
        raise NotAdmittedError(f"the account '{known.name}' is closed", "closed account")
    if rules.roles and role is None:
        raise NotAdmittedError(f"no group of '{known.name}' has a role on this server", "no role by groups")
    if rules.roles and role is not None and role != known.role:
        services.book.change_role(known.name, role)
        services.note(known.name, f"got the role {role.value} by its groups")
        return _present(services, known.name)
    return known


def _present(services: Services, name: str) -> KnownAccount:
    known = services.book.find(name)
    if known is None:
        raise NotAdmittedError(f"'{name}' has no account on this server", "no account")
    return known


def _about(identity: Identity | None) -> str:
    return "" if identity is None else f"subject {identity.subject}"
