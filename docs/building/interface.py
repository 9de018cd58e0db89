"""The directive ``public-names``: every public name of one package, from its docstring."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.util.docutils import SphinxDirective

import correlate

if TYPE_CHECKING:
    from sphinx.application import Sphinx
    from sphinx.util.typing import ExtensionMetadata


def names_of(room: str) -> list[str]:
    """Return the public names of a package.

    Parameters
    ----------
    room
        Module, for instance ``correlate.metrics``.

    Returns
    -------
    list of str
    """
    homes = correlate._HOMES  # noqa: SLF001 - the one table of public names
    return [name for name, home in homes.items() if home == room or home.startswith(room + ".")]


class PublicNames(SphinxDirective):
    """Write out the documentation of every public name of a package."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Return what autodoc makes of each name."""
        lines: list[str] = []
        for name in names_of(self.arguments[0]):
            lines += [f".. {_directive(getattr(correlate, name))}:: correlate.{name}", ""]
        holder = nodes.container()
        self.state.nested_parse(StringList(lines, source=self.get_source_info()[0]), 0, holder)
        return holder.children


def _directive(value: object) -> str:
    if inspect.isclass(value):
        return "autoexception" if issubclass(value, Exception) else "autoclass"
    return "autofunction" if callable(value) else "autodata"


def setup(app: Sphinx) -> ExtensionMetadata:
    """Register the directive."""
    app.add_directive("public-names", PublicNames)
    return {"parallel_read_safe": True}
