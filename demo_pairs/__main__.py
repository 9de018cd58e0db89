"""Build the demo: ``python -m demo_pairs --into FOLDER [--case NAME ...] [--release NAME ...]``."""

from pathlib import Path

import click

from correlate import interruptible, run_program


@click.command()
@click.option("--into", type=click.Path(path_type=Path), required=True, help="Folder to build.")
@click.option("--case", "cases", multiple=True, metavar="NAME", help="Only this load case (repeatable).")
@click.option("--release", "releases", multiple=True, metavar="NAME", help="Only this release (repeatable).")
@interruptible
def main(into: Path, cases: tuple[str, ...], releases: tuple[str, ...]) -> None:
    """Build the invented project: laboratory tests, model releases, planted faults."""
    from rich.console import Console  # noqa: PLC0415  (so that --help is quick)
    from rich.progress import Progress  # noqa: PLC0415

    from demo_pairs.build import BuildError, BuildSelection, build  # noqa: PLC0415

    try:
        selection = BuildSelection.of(cases, releases)
        console = Console(stderr=True)
        with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
            task = bar.add_task("building", total=None)

            def advance(made: str, done: int, total: int) -> None:
                bar.update(task, description=made, completed=done, total=total)

            built = build(into, selection, progress=advance)
    except BuildError as error:
        # What was asked for is wrong, or else the machine did not allow it.
        raise (click.ClickException if error.__cause__ is None else _NotAllowed)(str(error)) from None
    except OSError as error:
        raise _NotAllowed(
            f"{into}: the demo cannot be built ({error.strerror}); "
            "free some space, or name a folder on another disk"
        ) from None
    click.echo(f"{into}: {'built' if built else 'is up to date'}")


class _NotAllowed(click.ClickException):
    """The operating system refused something; unfinished files have been removed."""

    exit_code = 2


if __name__ == "__main__":
    run_program(lambda: main(prog_name="python -m demo_pairs"))
