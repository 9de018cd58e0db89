"""Several files that one run writes into one folder, read as one recording."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.errors import FormatError
from correlate.formats.columns.reading import NAME, read_columns_so_far
from correlate.formats.recording import Recording

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.formats.columns.layout import ColumnLayout, NormalEnd


@dataclass(frozen=True, slots=True)
class RunLayout:
    """The layouts of the files of a run, one per file.

    Attributes
    ----------
    parts
        In the order of the channels.
    """

    parts: tuple[ColumnLayout, ...]

    @property
    def normal_end(self) -> NormalEnd | None:
        """The first mark of a normal end."""
        return next((part.normal_end for part in self.parts if part.normal_end is not None), None)


def read_run(folder: Path, layout: RunLayout) -> Recording:
    """Read the file of each layout in a folder as far as it is written; their channels make up the recording.

    Raises
    ------
    FormatError
        The folder is not there, or a layout is for none of its files or for several.
    ChannelError
        Two files have a channel of one name.
    """
    files = sorted(one for one in folder.iterdir() if one.is_file()) if folder.is_dir() else []
    found = [read_columns_so_far(_only_file(files, folder, part), part) for part in layout.parts]
    return Recording(
        signals=tuple(itertools.chain.from_iterable(one.signals for one in found)),
        set_aside=tuple(itertools.chain.from_iterable(one.set_aside for one in found)),
        path=folder,
        format=NAME,
        unfinished=next((one.unfinished for one in found if one.unfinished is not None), None),
    )


def _only_file(files: list[Path], folder: Path, layout: ColumnLayout) -> Path:
    fitting = [file for file in files if layout.describes(file)]
    if len(fitting) != 1:
        seen = " and ".join(f"'{file.name}'" for file in fitting[:2]) or "no file"
        raise FormatError(
            f"the layout '{layout.name}' applies to {seen} in this folder",
            where=str(folder),
            remedy="name a folder with one file for each layout, and correct 'files' in the layout",
        )
    return fitting[0]
