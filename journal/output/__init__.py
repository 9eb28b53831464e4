"""The one place that writes files, whole or not at all; it knows paths, keys and bytes."""

from __future__ import annotations

from journal.output.disk import OutputError
from journal.output.files import check_file, write_file, write_new_files
from journal.output.kept_lines import KeptLines
from journal.output.notebook import MakeParts, WriteResult, matches_last, recover, write_notebook
from journal.output.part import OutputFile, ReadyFile, check_path, check_together
from journal.output.record import RECORD
from journal.output.store import CacheStore

__all__ = [
    "RECORD", "CacheStore", "KeptLines", "MakeParts", "OutputError", "OutputFile", "ReadyFile",
    "WriteResult", "check_file", "check_path", "check_together", "matches_last", "recover",
    "write_file", "write_new_files", "write_notebook",
]  # fmt: skip
