"""Files of lines that are only ever added to, in a folder of their owner alone.

A line is whole, or cut off at the end where the machine stopped; the next one begins anew.
"""

from __future__ import annotations

import os
from pathlib import Path

from journal.output.disk import Disk, OutputError, bytes_of, explain_os_errors, folder_names
from journal.output.store import trusted_path


class KeptLines:
    """The files of lines in a folder; it is made with the first line."""

    def __init__(self, folder: Path, disk: Disk | None = None) -> None:
        self.folder = folder
        self._disk = disk or Disk()

    def last(self, name: str) -> bytes | None:
        """The last line of a file, without its end; None where there is no file."""
        with explain_os_errors(str(self.folder)):
            data = bytes_of(os.path.join(os.path.realpath(self.folder), name))
        return None if data is None else data.rstrip(b"\n").rpartition(b"\n")[2]

    def size(self, name: str) -> int:
        """The bytes of a file; 0 where there is none."""
        try:
            return os.lstat(self.folder / name).st_size
        except OSError:
            return 0

    def names(self) -> tuple[str, ...]:
        """The files that there are, by name."""
        with explain_os_errors(str(self.folder)):
            return folder_names(os.path.realpath(self.folder))

    def add(self, name: str, line: bytes) -> None:
        """Add a line at the end of a file.

        Takes:  name  of the file: letters, digits, hyphens and dots
                line  without a line feed
        Fails:  OutputError if others may write in the folder, or the disk fails
        """
        shown = str(self.folder)
        with explain_os_errors(shown, kept="What was there is there still"):
            place = trusted_path(shown, self._disk)
            if place is None:
                raise OutputError(f'others may write in "{shown}"', "Name a folder of your own.")
            path = os.path.join(place, name)
            before = bytes_of(path)
            cut_off = before is not None and not before.endswith(b"\n")
            self._disk.append(path, b"\n" * cut_off + line + b"\n")
