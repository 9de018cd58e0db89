"""Write the committed example pairs anew: ``python -m demo_pairs.examples [--into FOLDER]``."""

from pathlib import Path

import click


@click.command()
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(__file__).parent,
    show_default="where the committed ones are",
    help="Folder of the examples.",
)
def main(into: Path) -> None:
    """Compute one thorax and one neck pair and write them as plain files."""
    from demo_pairs.examples.writing import EXAMPLES, write_examples  # noqa: PLC0415  (so that --help is quick)

    try:
        write_examples(into)
    except (OSError, RuntimeError) as error:
        raise click.ClickException(str(error)) from None
    for example in EXAMPLES:
        click.echo(into / example.name)


if __name__ == "__main__":
    main(prog_name="python -m demo_pairs.examples")
