"""How the documentation is built: ``sphinx-build -W docs build/docs``; it and its pages need no network."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from correlate import __version__

project = "correlate"
author = "the authors of correlate"
project_copyright = "the authors of correlate"
version = release = __version__

extensions = [
    "myst_nb",
    "numpydoc",
    "sphinx.ext.autodoc",
    "building.commands",
    "building.formulas",
    "building.interface",
]
source_suffix = {".md": "myst-nb", ".ipynb": "myst-nb", ".rst": "restructuredtext"}
exclude_patterns = ["pictures", "building"]
nitpicky = False

# Headings may be linked to, and formulas are written as $…$.
myst_enable_extensions = ["dollarmath", "deflist"]
myst_heading_anchors = 4

# The notebook is kept without results and executed by each build, in a folder of its own.
nb_execution_mode = "force"
nb_execution_in_temp = True
nb_execution_raise_on_error = True
nb_execution_timeout = 600
nb_merge_streams = True
# A figure comes as data for a notebook that draws it and as a static drawing; pages show the drawing.
suppress_warnings = ["mystnb.unknown_mime_type"]

autodoc_typehints = "none"
autodoc_member_order = "bysource"
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False

html_theme = "furo"
html_title = f"correlate {__version__}"
html_show_sphinx = False
html_copy_source = False
html_math_renderer = "mathml"
