"""The directives ``stable-names`` and ``further-names``: names of the interface, from their docstrings."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.util.docutils import SphinxDirective

import correlate

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sphinx.application import Sphinx
    from sphinx.util.typing import ExtensionMetadata


def further_names(package: str) -> list[str]:
    """Return the names that live in a package and are importable without being stable.

    Parameters
    ----------
    package
        Module, for instance ``correlate.metrics``.

    Returns
    -------
    list of str
    """
    homes = correlate._OTHERS  # noqa: SLF001 - the one table of these names
    return [name for name, home in homes.items() if home == package or home.startswith(package + ".")]


class StableNames(SphinxDirective):
    """Write out the documentation of the names that are given, the methods of classes too."""

    required_arguments = 1
    final_argument_whitespace = True

    def run(self) -> list[nodes.Node]:
        """Return what autodoc makes of each name."""
        return documented(self, self.arguments[0].split(), members=True)


class FurtherNames(SphinxDirective):
    """Write out the documentation of every other name of a package."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Return what autodoc makes of each name."""
        return documented(self, further_names(self.arguments[0]), members=False)


def documented(directive: SphinxDirective, names: Iterable[str], *, members: bool) -> list[nodes.Node]:
    """Return what autodoc makes of names.

    Parameters
    ----------
    directive
        That asks.
    names
        Of `correlate`.
    members
        Whether methods and properties of classes are written out.

    Returns
    -------
    list of docutils.nodes.Node
    """
    lines: list[str] = []
    for name in names:
        value = getattr(correlate, name)
        lines.append(f".. {_directive(value)}:: correlate.{name}")
        if members and inspect.isclass(value):
            lines += ["   :members:", f"   :exclude-members: {', '.join(sorted(_data_of(value)))}"]
        lines.append("")
    holder = nodes.container()
    directive.state.nested_parse(StringList(lines, source=directive.get_source_info()[0]), 0, holder)
    return holder.children


def _data_of(value: type) -> set[str]:
    """Return the fields of a class, which its docstring describes."""
    return {"with_traceback", "add_note", *getattr(value, "__dataclass_fields__", {})}


def _directive(value: object) -> str:
    if inspect.isclass(value):
        return "autoexception" if issubclass(value, Exception) else "autoclass"
    return "autofunction" if callable(value) else "autodata"


def setup(app: Sphinx) -> ExtensionMetadata:
    """Register the directives."""
    app.add_directive("stable-names", StableNames)
    app.add_directive("further-names", FurtherNames)
    return {"parallel_read_safe": True}
