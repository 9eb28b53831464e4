"""A process run to its end: what it took of the processor, of the clock and of memory."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True, slots=True)
class Took:
    """What a process and all that it started took."""

    cpu_s: float
    wall_s: float
    peak_mib: float
    said: str


def run(arguments: Sequence[str | Path], environment: Mapping[str, str]) -> Took:
    """Run Python with these arguments; fails if it does.

    Peak memory is that of the largest single process.
    """
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *map(str, arguments)],
        cwd=PROJECT,
        # Compiled modules are kept, as they are for a maker.
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "", **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    said = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    process.stdout.close()
    if process.returncode != 0:
        raise RuntimeError(f"{arguments} ended with {process.returncode}:\n{said[-4000:]}")
    return Took(
        cpu_s=used.ru_utime + used.ru_stime,
        wall_s=time.perf_counter() - begun,
        peak_mib=used.ru_maxrss / 1024,  # kB on Linux (getrusage(2))
        said=said,
    )
