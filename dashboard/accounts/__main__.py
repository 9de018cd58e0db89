"""Manage the accounts of a server: ``python -m dashboard.accounts add NAME --role lab``."""

from __future__ import annotations

import getpass
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate import CorrelateError
from dashboard.access import Role
from dashboard.accounts.audit import AuditTrail
from dashboard.accounts.book import AccountBook, open_accounts
from dashboard.accounts.known import Identity
from dashboard.accounts.second_factor import remove_second_factor
from dashboard.accounts.trail_file import difference, read_export, write_export
from dashboard.server_settings import load_settings

if TYPE_CHECKING:
    from sqlalchemy import Engine

WRONG_INPUT: Final = 2
"""Exit code when something cannot be done."""

DOES_NOT_FIT: Final = 1
"""Exit code if the audit trail was changed."""

_file = click.Path(path_type=Path, dir_okay=False)

_config = click.option(
    "--config",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("server.toml"),
    show_default=True,
    metavar="FILE",
    help="Settings of the server.",
)
_role = click.option(
    "--role",
    required=True,
    type=click.Choice([role.value for role in Role]),
    help="Permissions of the account.",
)


@click.group()
def program() -> None:
    """Manage the accounts of a server. Passwords are asked for, never taken from the command line."""


@program.command()
@click.argument("name")
@_role
@click.option(
    "--without-password", is_flag=True, help="For people who sign in through a proxy or an identity provider."
)
@_config
def add(*, name: str, role: str, without_password: bool, config: Path) -> None:
    """Add the account NAME."""
    engine = _opened(config)
    AccountBook(engine).add(name, Role(role), None if without_password else _asked_password())
    _done(engine, f"added the account {name}, role {role}")


@program.command("list")
@_config
def list_all(config: Path) -> None:
    """List the accounts."""
    for known in AccountBook(_opened(config)).all():
        states = {
            "without password": not known.has_password,
            "second factor": known.has_second_factor,
            "closed": known.closed,
        }
        state = "".join(f", {word}" for word, holds in states.items() if holds)
        click.echo(f"{known.name}: {known.role.value}, since {known.added[:10]}{state}")


@program.command()
@click.argument("name")
@_role
@_config
def role(name: str, role: str, config: Path) -> None:
    """Change the role of NAME and sign it out everywhere."""
    engine = _opened(config)
    AccountBook(engine).change_role(name, Role(role))
    _done(engine, f"changed the role of the account {name} to {role}")


@program.command()
@click.argument("name")
@_config
def password(name: str, config: Path) -> None:
    """Change the password of NAME and sign it out everywhere."""
    engine = _opened(config)
    AccountBook(engine).change_password(name, _asked_password())
    _done(engine, f"changed the password of the account {name}")


@program.command()
@click.argument("name")
@_config
def close(name: str, config: Path) -> None:
    """Close the account NAME and sign it out everywhere."""
    engine = _opened(config)
    AccountBook(engine).close(name)
    _done(engine, f"closed the account {name}")


@program.command()
@click.argument("name")
@_config
def reopen(name: str, config: Path) -> None:
    """Reopen the closed account NAME."""
    engine = _opened(config)
    AccountBook(engine).reopen(name)
    _done(engine, f"reopened the account {name}")


@program.command("second-factor")
@click.argument("name")
@click.option(
    "--remove",
    is_flag=True,
    required=True,
    help="Remove the second factor; the password alone is then enough.",
)
@_config
def second_factor(*, name: str, remove: bool, config: Path) -> None:  # noqa: ARG001 - said for plainness
    """Remove the second factor of NAME, for instance after a loss, and end all sessions of NAME."""
    engine = _opened(config)
    known = AccountBook(engine).find(name)
    if known is None:
        raise CorrelateError(f"there is no account '{name}'", remedy="see: correlate account list")
    if not remove_second_factor(engine, known.name, now=datetime.now(UTC)):
        raise CorrelateError(f"the account '{known.name}' has no second factor")
    _done(engine, f"removed the second factor of the account {known.name}")


@program.command()
@click.argument("name")
@click.option("--subject", required=True, metavar="SUB", help="Identifier of the person at the provider.")
@_config
def link(name: str, subject: str, config: Path) -> None:
    """Link the account NAME to the person SUB of the identity provider."""
    provider = load_settings(config).sign_in.provider
    if provider is None:
        raise CorrelateError(
            "the server has no identity provider", where=str(config), remedy="set [accounts.provider]"
        )
    engine = _opened(config)
    AccountBook(engine).link(name, Identity(provider.issuer, subject))
    _done(engine, f"linked the account {name} to the subject {subject}")


@program.command()
@click.option(
    "--last", type=click.IntRange(1, 100_000), default=50, show_default=True, help="Number of lines."
)
@click.option("--who", default="", help="Only this account.")
@click.option("--verify", is_flag=True, help="Check the chain of hashes.")
@click.option(
    "--against", type=_file, metavar="FILE", help="With --verify: also compare with an earlier export."
)
@click.option("--export", type=_file, metavar="FILE", help="Write all lines into a new file.")
@_config
def trail(  # noqa: PLR0917 - one a parameter of the command
    last: int,
    who: str,
    verify: bool,  # noqa: FBT001 - an option
    against: Path | None,
    export: Path | None,
    config: Path,
) -> None:
    """Show the end of the audit trail, check it, or export it as JSON lines."""
    if against is not None and not verify:
        raise click.UsageError("--against needs --verify.")
    if export is not None and verify:
        raise click.UsageError("Use either --verify or --export.")
    engine = _opened(config)
    AuditTrail(engine).settle()
    if verify:
        _verify(AuditTrail(engine), against)
    elif export is not None:
        _export(engine, export)
    else:
        _show(AuditTrail(engine), last, who)


def _show(trail: AuditTrail, last: int, who: str) -> None:
    for entry in trail.last(last, who=who):
        place = f" from {entry.address}" if entry.address else ""
        about = f": {entry.about}" if entry.about else ""
        click.echo(f"{entry.moment} {entry.who!r} {entry.what}{about}{place}")
    for one in trail.counted():
        whose = f"{one.who!r} from {one.address}" if not one.about else one.about
        click.echo(f"being counted since {one.begun}: {whose} {one.what}, {one.times}")


def _verify(trail: AuditTrail, against: Path | None) -> None:
    state = trail.check()
    click.echo(state.words)
    told = "" if against is None else difference(read_export(against), trail.rows())
    if told:
        click.echo(told)
    if state.broken_at is not None or told:
        sys.exit(DOES_NOT_FIT)
    if against is not None:
        click.echo(f"continues {against}")


def _export(engine: Engine, path: Path) -> None:
    trail = AuditTrail(engine)
    count = write_export(path, trail.rows())
    state = trail.check()
    _done(engine, f"exported {count} lines of the audit trail")
    if state.broken_at is not None:
        click.echo(state.words)
        sys.exit(DOES_NOT_FIT)


def _opened(config: Path) -> Engine:
    return open_accounts(load_settings(config).accounts)


def _asked_password() -> str:
    """Ask twice at a terminal; read one line where another program has the word."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    answer: Any = click.prompt("Password", hide_input=True, confirmation_prompt="Repeat")
    return str(answer)


def _done(engine: Engine, what: str) -> None:
    AuditTrail(engine).add(who=f"{getpass.getuser()} at the command line", what=what)
    click.echo(what)


def main() -> None:
    """Run the program; what cannot be done ends with one sentence."""
    try:
        program(prog_name="correlate account")
    except CorrelateError as error:
        click.echo(f"correlate: {error}", err=True)
        sys.exit(WRONG_INPUT)


if __name__ == "__main__":
    main()
