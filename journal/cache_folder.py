"""The places on this machine of a notebook's cache, and of what was handed in for it."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

from journal.output import CacheStore

_HAND_INS = os.path.join("soap-design-journal", "hand-ins")


def cache_store(content: Path) -> CacheStore:
    """The cache of a notebook, which lasts from one run to the next."""
    return CacheStore(cache_path(content))


def cache_path(content: Path) -> Path | None:
    """The folder of a notebook's cache, which may not exist yet; None for no cache.

    It lies outside the notebook that is made, which may be given away: in the folder that
    ``JOURNAL_CACHE`` names, else in the user's own cache folder. An empty ``JOURNAL_CACHE``
    turns the cache off.
    """
    folder = _cache_folder()
    if folder is None:
        return None
    name = os.path.realpath(content).encode("utf-8", "surrogateescape")
    return folder / hashlib.blake2b(name, digest_size=8).hexdigest()


def _cache_folder() -> Path | None:
    """The folder of all notebooks' caches; None for no cache."""
    setting = os.environ.get("JOURNAL_CACHE")
    if setting is not None:
        return Path(setting) if setting else None
    if sys.platform == "win32":
        folder = os.environ.get("LOCALAPPDATA")
    elif sys.platform == "darwin":
        folder = os.path.expanduser("~/Library/Caches")
    else:
        folder = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    # Without a home folder "~" stays as it is written.
    return Path(folder) / "soap-design-journal" if folder and os.path.isabs(folder) else None


def hand_ins_path(notebook: str) -> Path | None:
    """The folder of what was handed in for a notebook of this id; None where there is none.

    In the folder that ``JOURNAL_HAND_INS`` names, else where the system keeps what a program must
    not lose (XDG Base Directory Specification 0.8: the state folder), a folder a notebook.
    """
    setting = os.environ.get("JOURNAL_HAND_INS")
    if setting:
        folder = setting
    elif sys.platform == "win32":
        folder = os.path.join(os.environ.get("LOCALAPPDATA", ""), _HAND_INS)
    elif sys.platform == "darwin":
        folder = os.path.expanduser(f"~/Library/Application Support/{_HAND_INS}")
    else:
        state = os.environ.get("XDG_STATE_HOME") or os.path.expanduser("~/.local/state")
        folder = os.path.join(state, _HAND_INS)
    if not os.path.isabs(folder) and not setting:
        return None
    return Path(folder) / hashlib.blake2b(notebook.encode(), digest_size=8).hexdigest()
