"""``correlate packages``: packages that a project has received, from arrival to use in its campaign."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.keys import user_folder
from correlate.errors import CorrelateError, SettingsError, printable
from correlate.extras import need_extra

if TYPE_CHECKING:
    from correlate.campaign.package_use import PackageUse
    from correlate.reference.package.received import ReceivedPackage
    from correlate.reference.package.trust import Trust

project_argument = click.argument("project", type=click.Path(path_type=Path))


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def packages_command() -> None:
    """Receive packages of reference data in a project, release them from quarantine, use their tests.

    Every command takes PROJECT, a campaign file or the folder that holds a campaign.toml.
    """


@packages_command.command("list")
@project_argument
def list_command(*, project: Path) -> None:
    """List the packages of PROJECT, those in quarantine first."""
    from correlate.campaign import load_campaign
    from correlate.campaign.package_use import uses_of_package
    from correlate.reference.package.received import received_packages

    campaign = load_campaign(project)
    packages = received_packages(campaign.folder)
    for one in packages:
        click.echo(_words(one))
        click.echo(f"  {_signed(campaign.folder, one)}")
        for case, tests in uses_of_package(campaign, one).items():
            click.echo(f"  used in {case}: {', '.join(tests)}")
    if not packages:
        click.echo("No package has been received.")


@packages_command.command("receive")
@project_argument
@click.argument("bag", type=click.Path(path_type=Path))
def receive_command(*, project: Path, bag: Path) -> None:
    """Verify and check BAG, a zip file or folder, and store it in PROJECT.

    It is stored in quarantine, and the exit code is 1, if the data check finds errors or the signature is not
    accepted: by the public keys and revoked.toml in the folder trusted_keys of PROJECT, otherwise in the
    folder that the variable CORRELATE_TRUSTED_KEYS names. If there is neither, no signature is required.
    """
    need_extra("share")
    from correlate.campaign import load_campaign
    from correlate.reference.package.received import receive_package

    folder = load_campaign(project).folder
    package = receive_package(folder, bag, trust=_trust(folder))
    click.echo(_words(package))
    click.echo(f"  {_signed(folder, package)}")
    for finding in package.findings:
        click.echo(f"  {finding}")
    if package.quarantine:
        raise click.exceptions.Exit(1)


@packages_command.command("release")
@project_argument
@click.argument("name")
@click.option("--who", required=True, help="Person responsible for the use of the package.")
@click.option("--why", required=True, help="Reason; it stays with the package.")
def release_command(*, project: Path, name: str, who: str, why: str) -> None:
    """Release the package NAME from quarantine. Errors that are not waived stay open.

    If its signature is not accepted, the reason is recorded with the release.
    """
    from correlate.campaign import load_campaign
    from correlate.reference.package.releasing import release_package

    folder = load_campaign(project).folder
    click.echo(_words(release_package(folder, name, who=who, why=why, trust=_trust(folder))))


@packages_command.command("use")
@project_argument
@click.argument("name")
@click.option("--load-case", metavar="CASE", help="Load case that the tests become repeats of.")
@click.option("--new", metavar="CASE", help="Name of a new load case.")
@click.option("--title", default="", help="Title of the new load case.")
@click.option(
    "--interval", nargs=2, type=float, metavar="FROM TO", help="Interval of a new load case, in ms."
)
@click.option(
    "--tests", "source", default="", metavar="FOLDER", help="Folder of the tests, if there are several."
)
@click.option("--write", is_flag=True, help="Write the change into the campaign file.")
def use_command(
    *,
    project: Path,
    name: str,
    load_case: str | None,
    new: str | None,
    title: str,
    interval: tuple[float, float] | None,
    source: str,
    write: bool,
) -> None:
    """Show how the campaign file changes when the tests of the package NAME are used; --write writes it."""
    from correlate.campaign import load_campaign
    from correlate.campaign.package_use import plan_load_case, plan_repeats, use_package

    path = load_campaign(project).path
    if (load_case is None) == (new is None):
        raise SettingsError("no load case is given", remedy="give either --load-case or --new")
    if load_case is not None:
        use = plan_repeats(path, name, load_case=load_case, source=source)
    elif interval is None:
        raise SettingsError("a new load case needs an interval", remedy="give --interval FROM TO in ms")
    else:
        use = plan_load_case(path, name, name=str(new), interval_ms=interval, title=title, source=source)
    _print_use(use)
    if write:
        use_package(use)
        click.echo("Written. 'correlate score' rates the new pairs.")
    else:
        click.echo("Nothing was written. Add --write to write the change.")


def _words(one: ReceivedPackage) -> str:
    from correlate.reference.finding import counted

    if one.problem:
        return f"{one.name}: {one.problem}"
    state = f"in quarantine, {counted(one.errors, 'error')}" if one.quarantine else "received"
    if one.quarantine and one.distrust:
        state += f", and {one.distrust}"
    if one.released is not None:
        state = one.released.words
    return f"{one.name}: {state}; {one.folder}"


def _trust(folder: Path) -> Trust:
    """Return whose packages a project accepts, or its user where the project has no trusted keys."""
    from correlate.reference.package.trust import NOBODY, trust_in, trust_of_project

    user = user_folder()
    found = trust_of_project(folder)
    return trust_in(user, required=False) if found is NOBODY and user is not None else found


def _signed(folder: Path, one: ReceivedPackage) -> str:
    """Return who signed a package and whether the key is trusted, or why that is not known."""
    from correlate.reference.package.received import signing_chain

    try:
        return printable(signing_chain(folder, one, trust=_trust(folder)).words)
    except CorrelateError as error:
        return printable(str(error))


def _print_use(use: PackageUse) -> None:
    click.echo(f"{', '.join(use.tests)} of {use.package} in load case {use.load_case}")
    if use.released is not None:
        click.echo(f"  {use.released.words}")
    for test, channels in use.missing.items():
        click.echo(f"  {test} lacks {', '.join(channels)}")
    for line in use.lines:
        if line.strip("+-"):
            click.echo(f"  {line[0]} {line[1:]}")
