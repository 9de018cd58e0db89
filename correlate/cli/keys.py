"""Keys on the command line: creating them, their passphrase, and whose signatures are accepted."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from getpass import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate.errors import SettingsError
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.reference.package.trust import Trust

PASSPHRASE: Final = "CORRELATE_KEY_PASSPHRASE"  # noqa: S105 - the name of a variable
"""Environment variable with the passphrase of a private key, for programs."""
TRUSTED: Final = "CORRELATE_TRUSTED_KEYS"
"""Environment variable with the folder of the keys that a user trusts."""
VALID_DAYS: Final = 730
"""Days for which a key is valid by default; chosen here."""

passphrase_option = click.option(
    "--passphrase-file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help=f"File whose first line is the passphrase.  [default: {PASSPHRASE}, else you are asked]",
)


def trust_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say whose signatures are accepted."""
    for option in (
        click.option(
            "--require-signature",
            is_flag=True,
            help="The package must be signed; without trusted keys, any valid signature is accepted.",
        ),
        click.option(
            "--trusted",
            type=click.Path(path_type=Path),
            metavar="FOLDER",
            help="Folder of .pub files and revoked.toml; the package must be signed with a key in it.  "
            f"[default: the folder in {TRUSTED}]",
        ),
        click.option(
            "--key",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Public key of the sender; the package must be signed with it.",
        ),
    ):
        command = option(command)
    return command


def trust_from(*, key: Path | None, trusted: Path | None, require_signature: bool) -> Trust:
    """Return whose signatures are accepted by the options of a command, else by the user's folder."""
    from correlate.reference.package.trust import Trust, trust_in, trust_of_key

    folder = trusted or user_folder()
    known = Trust(required=require_signature) if folder is None else trust_in(folder)
    return known if key is None else replace(trust_of_key(key), revoked=known.revoked)


def user_folder() -> Path | None:
    """Return the folder of the keys that the user trusts; None where none is set."""
    named = os.environ.get(TRUSTED, "")
    return Path(named) if named else None


def passphrase_of(key: Path, file: Path | None) -> str:
    """Return the passphrase of an existing private key; empty for one that needs none."""
    from correlate.reference.package.keys import is_encrypted

    if not is_encrypted(key):
        return ""
    return _given(file) or _asked(f"Passphrase of {key}: ")


def _given(file: Path | None) -> str:
    """Return the passphrase that a file or the environment holds; empty for none."""
    from correlate.files import first_bytes

    if file is None:
        return os.environ.get(PASSPHRASE, "")
    try:
        line = first_bytes(file).decode("utf-8").split("\n")[0].rstrip("\r")
    except UnicodeDecodeError:
        line = ""
    if not line:
        raise SettingsError(
            "the first line contains no passphrase",
            where=str(file),
            remedy="write the passphrase in the first line, or name another file",
        )
    return line


def _asked(prompt: str) -> str:
    if not sys.stdin.isatty():
        raise SettingsError(
            "the private key needs a passphrase, and there is no terminal to ask for it",
            remedy=f"give --passphrase-file, or set the variable {PASSPHRASE}",
        )
    try:
        return getpass(prompt)
    except EOFError:
        return ""


def _new_passphrase(file: Path | None) -> str:
    if given := _given(file):
        return given
    first = _asked("New passphrase: ")
    if not first:
        raise SettingsError(
            "the passphrase is empty",
            remedy="enter one, or use --no-passphrase for a private key that is not encrypted",
        )
    if _asked("Repeat the passphrase: ") != first:
        raise SettingsError("the two passphrases differ", remedy="enter the same passphrase twice")
    return first


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--name", required=True, help="Holder of the key: a person or a role.")
@click.option("--organisation", required=True, help="Organisation of the holder.")
@click.option(
    "--valid-until",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Last day on which the key may be used.  [default: two years from today]",
)
@passphrase_option
@click.option("--no-passphrase", is_flag=True, help="Do not encrypt the private key.")
def key_command(
    *,
    file: Path,
    name: str,
    organisation: str,
    valid_until: datetime | None,
    passphrase_file: Path | None,
    no_passphrase: bool,
) -> None:
    """Create an Ed25519 key pair: FILE is private, FILE.pub is for the recipients of your packages.

    FILE is encrypted with a passphrase. FILE.pub states holder, dates and fingerprint.
    """
    need_extra("share")
    from correlate.reference.package.keys import make_key

    today = datetime.now(UTC).date()
    until: date = today + timedelta(days=VALID_DAYS) if valid_until is None else valid_until.date()
    public = make_key(
        file,
        name=name,
        organisation=organisation,
        valid_from=today,
        valid_until=until,
        passphrase="" if no_passphrase else _new_passphrase(passphrase_file),
    )
    state = "not encrypted" if no_passphrase else "encrypted with the passphrase"
    click.echo(f"private key  {file}  (keep it secret; {state})")
    click.echo(f"public key   {file}.pub")
    click.echo(f"holder       {public.holder}, valid from {public.valid_from} until {public.valid_until}")
    click.echo(f"fingerprint  {public.fingerprint}")
