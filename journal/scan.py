"""A scan of the notebook's files: their sizes, times and digests.

A file of the same size and times as at the last scan is not read again, unless it was changed
within moments of that scan, since its times could not show another change. The result is cached
outside the notebook that is made: times and places of this machine stand in no byte of it.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import sys
import time
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct, field

from journal.output import CacheStore

#: Times of files come in steps of up to two seconds (FAT), in nanoseconds.
STEP_NS = 2_500_000_000
#: The version of the cached table's format.
_FORM = 1
_TABLE, _PROGRAM = "seen", "program"

# Size, when it was written, when anything of it was changed.
Times = tuple[int, int, int]


class ContentScan(Struct, frozen=True):
    """Every file of a notebook's content, by its path from the content folder.

    ``digests`` are of the bytes; "" for a file that cannot be read. ``recent`` are the
    paths of files changed so lately that the same times do not mean the same bytes.
    """

    digests: Mapping[str, str]
    times: Mapping[str, Times]
    recent: frozenset[str] = field(default_factory=frozenset)

    @property
    def key(self) -> str:
        """A digest of all names and bytes, and of nothing else."""
        return self.under("")

    def under(self, folder: str) -> str:
        """A digest of names and bytes of the files whose path begins so."""
        digest = hashlib.blake2b(digest_size=16)
        for path in sorted(path for path in self.digests if path.startswith(folder)):
            name = path.encode("utf-8", "surrogateescape")
            digest.update(b"%d %s\n" % (len(name), name) + self.digests[path].encode())
        return digest.hexdigest()


def scan_content(root: Path, store: CacheStore, *, clock_ns: int | None = None) -> ContentScan:
    """Scan every file of a notebook; only those that changed since the last scan are read."""
    now = time.time_ns() if clock_ns is None else clock_ns
    before = _last_scan(store)
    times = file_times(root)
    digests = {
        path: before[path][1]
        if path in before and before[path][0] == entry
        else file_digest(os.path.join(root, path))
        for path, entry in times.items()
    }
    # A time in the future vouches for nothing, so a clock that was set back costs time only.
    recent = frozenset(
        path for path, (_, *moments) in times.items() if max(moments) > now - STEP_NS
    )
    rows = {path: (entry, digests[path]) for path, entry in times.items() if path not in recent}
    if rows != before:
        table = {path: [*entry, digest] for path, (entry, digest) in rows.items()}
        store.write(_TABLE, json.dumps([_FORM, table], separators=(",", ":")).encode())
    return ContentScan(digests, times, recent)


def file_times(root: Path) -> dict[str, Times]:
    """Every file under a folder with its size and times, none of them opened.

    Hidden ones are left out, and folders that are links are not entered.
    """
    files: dict[str, Times] = {}
    folders = [""]
    while folders:
        folder = folders.pop()
        try:
            with os.scandir(os.path.join(root, folder) if folder else root) as scanned:
                entries = list(scanned)
        except OSError:
            continue
        before = f"{folder}/" if folder else ""
        for entry in entries:
            if entry.name.startswith("."):
                continue
            path = before + entry.name
            try:
                if entry.is_dir(follow_symlinks=False):
                    folders.append(path)
                elif entry.is_file():
                    stat = entry.stat()
                    files[path] = (stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns)
            except OSError:
                files[path] = (0, 0, 0)
    return files


def changed_since(root: Path, scan: ContentScan) -> frozenset[str]:
    """Paths that are new, gone or different since a scan."""
    times = file_times(root)
    changed = {path for path in times.keys() | scan.times.keys()
               if times.get(path) != scan.times.get(path)}  # fmt: skip
    rewritten = {path for path in scan.recent - changed
                 if file_digest(os.path.join(root, path)) != scan.digests[path]}  # fmt: skip
    return frozenset(changed | rewritten)


def _last_scan(store: CacheStore) -> dict[str, tuple[Times, str]]:
    """Times and digest of each file at the last scan, by path; empty where none is cached."""
    raw = store.read(_TABLE)
    try:
        form, table = json.loads(raw or b"[0, {}]")
        if form != _FORM:
            return {}
        return {path: ((size, written, changed), digest)
                for path, (size, written, changed, digest) in table.items()}  # fmt: skip
    except (ValueError, TypeError, AttributeError, RecursionError):
        return {}


def file_digest(path: str) -> str:
    """A digest of a file's bytes; "" where they cannot be read."""
    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "blake2b").hexdigest()[:32]
    except OSError:
        return ""


def program_fingerprint() -> str:
    """A digest of the paths and times of the program's files, its themes and its libraries."""
    package = Path(__file__).resolve().parent
    digest = hashlib.blake2b(sys.version.encode(), digest_size=16)
    # In a checkout the themes lie beside the package, installed they are among its files.
    for folder in (package, package.parent / "themes"):
        for path, times in sorted(file_times(folder).items()):
            if "__pycache__/" in path:
                continue
            digest.update(f"{path} {times}\n".encode("utf-8", "surrogateescape"))
    for name in ("jinja2", "markdown", "PIL", "pillow_heif"):
        spec = importlib.util.find_spec(name)
        origin = spec.origin if spec is not None else None
        stat = os.stat(origin) if origin else None
        digest.update(f"{name} {origin} {stat and (stat.st_mtime_ns, stat.st_ctime_ns)}\n".encode())
    return digest.hexdigest()


def cached_program_digest(store: CacheStore, times: str) -> str | None:
    """The cached digest of the program; None unless it was made when its files had these times."""
    raw = store.read(_PROGRAM)
    cached_times, _, key = (raw or b"").decode("ascii", "replace").partition(" ")
    return key if cached_times == times and key else None


def cache_program_digest(store: CacheStore, times: str, key: str) -> None:
    """Cache the digest of the program for the next run."""
    store.write(_PROGRAM, f"{times} {key}".encode())
