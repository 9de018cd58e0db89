"""Layouts and files of columns typed by hand; shared by the tests of the reader."""

from __future__ import annotations

from typing import Any

from correlate.formats.columns import Column, ColumnLayout, RepeatedBlock

PROBE = """\
  probe of run 12
  t            force   state  travel
# ms           kN              mm
  0.0         0.0      ok      0.0
  0.1        -1.5E+00  ok      0.25

  0.2         2.5e1    BAD    .5
# half way
  0.3         3        ok     1.
"""
NODES = """\
run 12, two nodes

 n o d e s   at time =  0.00000E+00  ( cycle      1 )
 node          x           y
   12 1.00000E+00-2.00000E+00
    7 3.00000E+00 4.00000E+00

 energy  17.5
 n o d e s   at time = 5.00000E-05  ( cycle      9 )
 node          x           y
   12 1.50000E+00-2.50000E+00
    7 3.50000E+00 4.50000E+00

 n o d e s   at time = 1.00000E-04  ( cycle     17 )
 node          x           y
    7 3.75000E+00 4.75000E+00
   12 1.75000E+00-2.75000E+00

 normal end
"""
"""Columns that touch; the last block in another order; a line in between and one at the end."""


def probe(**other: Any) -> ColumnLayout:
    """Return the layout of the table."""
    given: dict[str, Any] = {
        "name": "probe",
        "time": "t",
        "skip_lines": 2,
        "comment": "#",
        "columns": (
            Column(name="t", unit="ms"),
            Column(name="force", unit="kN"),
            Column(name="state", ignore=True),
            Column(name="travel", unit="mm"),
        ),
    }
    return ColumnLayout(**(given | other))


def nodes(**other: Any) -> ColumnLayout:
    """Return the layout of the blocks, with other settings of the block."""
    block: dict[str, Any] = {
        "start": "n o d e s at time = {time} *",
        "time_unit": "s",
        "key": "node",
        "skip_lines": 1,
        "end": "",
    }
    columns = (
        Column(name="node", characters=(1, 5)),
        Column(name="x", unit="mm", characters=(6, 17)),
        Column(name="y", unit="mm", characters=(18, 29)),
    )
    return ColumnLayout(name="nodes", columns=columns, block=RepeatedBlock(**(block | other)))


def two_columns(**other: Any) -> ColumnLayout:
    """Return the layout of a time in s and a force."""
    columns = (Column(name="t", unit="s"), Column(name="force", unit="kN"))
    return ColumnLayout(name="plain", time="t", columns=columns, **other)
