"""The one place that writes files, whole or not at all; it knows of no page.

What to call it with is a path, a key and the bytes; where the bytes come from
stands elsewhere.
"""

from __future__ import annotations

from journal.output.disk import OutputError
from journal.output.files import write_file, write_new_files
from journal.output.notebook import MakeParts, WriteResult, matches_last, recover, write_notebook
from journal.output.part import OutputFile, ReadyFile, check_path
from journal.output.store import CacheStore

__all__ = [
    "MakeParts",
    "OutputError",
    "OutputFile",
    "ReadyFile",
    "CacheStore",
    "WriteResult",
    "check_path",
    "write_new_files",
    "matches_last",
    "recover",
    "write_file",
    "write_notebook",
]
