"""Formulas as MathML, which browsers draw by themselves: no script, no font, no other host."""

from __future__ import annotations

from typing import TYPE_CHECKING

from docutils import nodes
from latex2mathml.converter import convert

if TYPE_CHECKING:
    from sphinx.application import Sphinx
    from sphinx.util.typing import ExtensionMetadata
    from sphinx.writers.html5 import HTML5Translator


def _inline(translator: HTML5Translator, node: nodes.Element) -> None:
    translator.body.append(convert(node.astext()))
    raise nodes.SkipNode


def _block(translator: HTML5Translator, node: nodes.Element) -> None:
    translator.body.append(f'<div class="formula">{convert(node.astext(), display="block")}</div>')
    raise nodes.SkipNode


def setup(app: Sphinx) -> ExtensionMetadata:
    """Register the renderer."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    return {"parallel_read_safe": True}
