"""What macOS and Windows lack is done another way: no fork, no fcntl, no descriptors of folders.

Nothing here runs on those systems: what they lack is taken away before the program is loaded.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import worked_notebook

#: macOS has no such calls of Linux, and forks unsafely; Windows has no more of what is taken here.
MACOS = """
sys.platform = "darwin"
for name in ("sched_getaffinity", "O_PATH"):
    if hasattr(os, name):
        delattr(os, name)
"""
WINDOWS = """
sys.platform = "win32"
sys.modules["fcntl"] = sys.modules["resource"] = sys.modules["readline"] = None
class Locks:
    LK_NBLCK, held = 1, []
    def locking(self, handle, how, count):
        self.held.append(how)
sys.modules["msvcrt"] = Locks()
os.supports_dir_fd = os.supports_follow_symlinks = frozenset()
for name in ("fork", "forkpty", "register_at_fork", "sched_getaffinity", "sync", "getuid",
             "geteuid", "getgid", "getppid", "chown", "O_NOFOLLOW", "O_DIRECTORY", "O_PATH",
             "O_NONBLOCK"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("setitimer", "ITIMER_PROF", "SIGPROF", "SIGALRM", "alarm", "SIGKILL"):
    if hasattr(signal, name):
        delattr(signal, name)
for name in ("open", "mkdir", "unlink", "rmdir", "rename", "replace", "stat", "readlink",
             "symlink"):
    def whole(call):
        def without(*given, dir_fd=None, src_dir_fd=None, dst_dir_fd=None, **more):
            if (dir_fd, src_dir_fd, dst_dir_fd) != (None, None, None):
                raise NotImplementedError("no descriptors of folders")
            return call(*given, **more)
        return without
    setattr(os, name, whole(getattr(os, name)))
"""
#: What the standard library itself asks about its system is loaded before that is changed.
RUN = """
import ctypes, concurrent.futures.process, email, http.server, json, logging, multiprocessing
import os, selectors, shutil, signal, socket, stat, subprocess, sys, tempfile, webbrowser, zoneinfo
import pathlib, weakref, urllib.request, numpy, pydantic, yaml, PIL.Image, jinja2, markdown, msgspec
{hidden}
from journal.cli import main
content, out = sys.argv[1:]
statuses = [main(["check", "--content", content])]
statuses += [main(["build", "--content", content, "--out", out]) for _ in range(2)]
print(json.dumps([statuses, getattr(sys.modules.get("msvcrt"), "held", [])]))
"""


@pytest.mark.parametrize("system", ["macOS", "Windows"])
def test_a_notebook_is_checked_built_and_left_as_it_is(tmp_path: Path, system: str) -> None:
    content, out = worked_notebook.lay_out(tmp_path / "content"), tmp_path / "out"
    ran = subprocess.run(
        [sys.executable, "-c", RUN.format(hidden={"macOS": MACOS, "Windows": WINDOWS}[system]),
         str(content), str(out)],
        capture_output=True, text=True, check=False,
        env={"JOURNAL_CACHE": str(tmp_path / "cache"), "PATH": "/usr/bin"},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    lines = ran.stdout.splitlines()
    statuses, locked = json.loads(lines[-1])
    assert statuses == [0, 0, 0], ran.stderr
    assert lines[-3].startswith("Nothing has changed: ")
    assert (out / "designs" / "leaf.html").is_file()
    # Two commands are kept apart by the way of the system.
    assert bool(locked) == (system == "Windows")
