"""The one place that writes files, whole or not at all; it knows of no page.

What to call it with is a path, a key and the bytes; where the bytes come from
stands elsewhere.
"""

from __future__ import annotations

from journal.output.disk import OutputError
from journal.output.files import lay_down, write_file
from journal.output.notebook import MakeAll, Written, matches_last, recover, write_notebook
from journal.output.part import Part, Ready, check_path
from journal.output.store import Store

__all__ = [
    "MakeAll",
    "OutputError",
    "Part",
    "Ready",
    "Store",
    "Written",
    "check_path",
    "lay_down",
    "matches_last",
    "recover",
    "write_file",
    "write_notebook",
]
