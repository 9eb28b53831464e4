"""What a folder was last made from: written in it, or for an edition only in the cache.

The digest of the whole content depends on what an edition leaves out, so no file that is given
away may hold it.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path

from journal.output import RECORD, CacheStore, matches_last

_TABLE = "made-from"
#: Folders of one notebook that are remembered, the last made first.
_MOST_FOLDERS = 16


def stamp_to_write(stamp: Mapping[str, str]) -> dict[str, str]:
    """The part of a build's stamp that may be written in its folder."""
    return {**stamp} if stamp["edition"] == "studio" else {**stamp, "content": ""}


def is_up_to_date(out: Path, stamp: Mapping[str, str], store: CacheStore) -> bool:
    """Whether ``out`` was written whole under this stamp, and is as it was made."""
    if stamp["edition"] == "studio":
        return matches_last(out, stamp)
    row = _rows(store).get(os.path.realpath(out))
    return row == _row(out, stamp) and matches_last(out, stamp_to_write(stamp))


def remember(out: Path, stamp: Mapping[str, str], store: CacheStore) -> None:
    """Keep what ``out`` was made from, if that is not written in it."""
    if stamp["edition"] != "studio":
        place = os.path.realpath(out)
        others = [(name, row) for name, row in _rows(store).items() if name != place]
        rows = dict([(place, _row(out, stamp)), *others[: _MOST_FOLDERS - 1]])
        store.write(_TABLE, json.dumps(rows).encode())


def _row(out: Path, stamp: Mapping[str, str]) -> list[str]:
    """Digests of a stamp, and of the record in ``out``; "" where there is none."""
    said = json.dumps(sorted(stamp.items())).encode()
    try:
        record = hashlib.blake2b((out / RECORD).read_bytes(), digest_size=16).hexdigest()
    except OSError:
        record = ""
    return [hashlib.blake2b(said, digest_size=16).hexdigest(), record]


def _rows(store: CacheStore) -> dict[str, list[str]]:
    """The rows by real path; none where they cannot be read."""
    try:
        rows = json.loads(store.read(_TABLE) or b"{}")
        return {str(place): [*map(str, row)] for place, row in rows.items()}
    except (ValueError, TypeError, AttributeError, RecursionError):
        return {}
