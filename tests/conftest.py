"""What every test can ask for, and what none may do."""

from __future__ import annotations

import ctypes
import gc
import io
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import Executor
from contextlib import redirect_stderr, redirect_stdout
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Protocol

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers
from jinja2 import Environment
from long_run import LONG
from paths import PROJECT

from journal.cache import AnswerCache
from journal.cli import main
from journal.output import OutputError
from journal.output.lock import folder_lock
from journal.photos import prepare
from journal.photos.prepare import PreparedPhoto, photo_digest, prepare_photo
from journal.views.shared import photos as shown_photos

# Most of what the tests start is this program: compiled once in a run, not at each start. Where
# no bytecode is wanted beside the sources it lies in a folder that goes with the run.
if sys.dont_write_bytecode:
    _bytecode = tempfile.TemporaryDirectory(prefix="journal-bytecode-", ignore_cleanup_errors=True)
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix = _bytecode.name
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False

#: Set by .ci/run, which has every tool: to skip a test there is to fail it.
IN_CI = os.environ.get("CI", "").lower() not in ("", "0", "false")
#: The usual command draws the same examples everywhere, so that it says the same to everybody;
#: the long one draws new ones. Neither asks for time, which a busy machine takes.
UNTIMED = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("usual", derandomize=True, database=None, **UNTIMED)
settings.register_profile("long", derandomize=False, max_examples=2000, **UNTIMED)
settings.load_profile("long" if LONG else "usual")
if not LONG:
    # Hypothesis draws constants of our own modules too: of those that this process has loaded by
    # then, as they are written today. No setting leaves them out (6.170);
    # test_how_tests_run.py tells if this does no more.
    providers._get_local_constants = lambda: providers._local_constants


#: The processes of the one build of the demo that is made with several: the run may ask for one,
#: as the measure of branches does.
FORKED = os.environ.get("JOURNAL_WORKERS") or "2"

#: Beside the demo notebook: the cache from which its other editions are built.
KEPT_OF_DEMO = "kept of the demo"

#: Some user who is neither root nor the one who runs the tests.
SOMEBODY = 54321


def _can_give_files_away() -> bool:
    """Whether a file can be made another user's: by root, and where that user is known."""
    with tempfile.NamedTemporaryFile() as some:
        try:
            os.chown(some.name, SOMEBODY, SOMEBODY)
        except (OSError, AttributeError):
            return False
    return True


#: Folders and files of the tests of browsers, servers, threads and processes beside this one: other
#: work on the machine can make one of these late, or bring two of them together as no other run
#: does. Each has a second try: what fails twice fails, and what passed at the second try is listed
#: at the end of the run, since a fault that is found by chance alone is a fault as well.
SECOND_TRY = (
    "browser/",
    "preview/",
    "cli/test_build_faults.py",
    "cli/test_workers.py",
    "fuzz/test_fuzz_notebooks.py",
    "html/test_sandbox.py",
    "output/test_broken_disk.py",
    "output/test_folder_from_elsewhere.py",
    "output/test_lock.py",
    "output/test_stopped_at_any_step.py",
    "photos/test_prepare.py",
    "pipeline/test_same_bytes.py",
    "test_wheel.py",
)


def pytest_itemcollected(item: pytest.Item) -> None:
    """Let a test of ``SECOND_TRY`` have one (pytest-rerunfailures)."""
    path = os.path.relpath(item.path, Path(__file__).parent)
    if path.replace(os.sep, "/").startswith(SECOND_TRY):
        item.add_marker(pytest.mark.flaky(reruns=1))


def _leave_out(marker: str, config: pytest.Config, items: list[pytest.Item]) -> None:
    config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker(marker)])
    items[:] = [item for item in items if not item.get_closest_marker(marker)]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests marked ``long`` are left to the long command, which has the time for all, and those
    marked ``root`` to who may give files away: that is no tool which CI could have. Nor is Firefox
    where ``.ci/run`` found none to install."""
    if not _can_give_files_away():
        _leave_out("root", config, items)
    if os.environ.get("NO_FIREFOX"):
        _leave_out("firefox", config, items)
    items.sort(key=lambda item: item.get_closest_marker("first") is None)
    if LONG:
        for item in items:
            item.add_marker(pytest.mark.timeout(7200), append=False)
        return
    _leave_out("long", config, items)


def pytest_sessionstart() -> None:
    """While tests are collected hardly anything goes: to look for it takes a sixth of the time.

    Folders that tests make are closed to others, as on most systems: in another the program keeps
    nothing.
    """
    gc.disable()
    os.umask(0o022)


def pytest_collection_finish() -> None:
    """What was collected stays to the end, and is not looked through again."""
    gc.collect()
    gc.freeze()
    gc.enable()


def _refuse_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """A test is skipped for want of a tool alone, and in CI none is wanting."""
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        why = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"CI has the tools for every test, and this one was skipped: {why}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """No skip passes in CI."""
    report = yield
    _refuse_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """No skip of a whole file passes in CI."""
    report = yield
    _refuse_skip(report)
    return report


@pytest.fixture(scope="session")
def project() -> Path:
    """The checkout; only to be read."""
    return PROJECT


@pytest.fixture(scope="session")
def demo_content() -> Path:
    """The content of the demo notebook; only to be read."""
    return PROJECT / "content"


class _Rights(ctypes.Structure):
    _fields_ = [(name, ctypes.c_uint32) for name in ("effective", "permitted", "inheritable")]


class _Whose(ctypes.Structure):
    _fields_ = [("version", ctypes.c_uint32), ("process", ctypes.c_int)]


#: Root's right to read and write whatever the file's own rights say (CAP_DAC_OVERRIDE,
#: CAP_DAC_READ_SEARCH of linux/capability.h, whose third version holds two words).
_ANY_FILE = 0b110
_THIRD_VERSION = 0x20080522


@pytest.fixture
def like_anybody() -> Iterator[None]:
    """What a file's rights forbid is forbidden while the test runs, even to root."""
    if not hasattr(os, "geteuid"):
        pytest.skip("files have no such rights here")
    if os.geteuid() != 0:
        yield
        return
    if sys.platform != "linux":
        pytest.skip("root cannot lay down its rights here")
    kernel = ctypes.CDLL(None, use_errno=True)
    whose, rights = _Whose(_THIRD_VERSION, 0), (_Rights * 2)()
    assert kernel.capget(ctypes.byref(whose), rights) == 0, os.strerror(ctypes.get_errno())
    had = rights[0].effective
    rights[0].effective = had & ~_ANY_FILE
    assert kernel.capset(ctypes.byref(whose), rights) == 0, os.strerror(ctypes.get_errno())
    yield
    rights[0].effective = had
    assert kernel.capset(ctypes.byref(whose), rights) == 0, os.strerror(ctypes.get_errno())


class RunJournal(Protocol):
    """Runs the program and gives what it said."""

    def __call__(
        self, *arguments: str | Path, cwd: Path, **environment: str
    ) -> subprocess.CompletedProcess[str]: ...


@pytest.fixture(scope="session")
def run_journal() -> RunJournal:
    """Runs the program in a process of its own, as a maker does."""

    def run(
        *arguments: str | Path, cwd: Path, **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "journal", *map(str, arguments)],
            cwd=cwd,
            env={**os.environ, "PYTHONPATH": str(PROJECT), **environment},
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=300,
            check=False,
        )

    return run


class CallJournal(Protocol):
    """Runs a command here and gives what it said."""

    def __call__(self, *arguments: str | Path) -> subprocess.CompletedProcess[str]: ...


@pytest.fixture(scope="session")
def call_journal() -> CallJournal:
    """Runs a command in this process, in a fifth of the time that a start of the program takes.

    For what is asked of the files that it makes; how it starts and ends is for ``run_journal``.
    """

    def call(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        out, wrong = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="") for _ in "12")
        with redirect_stdout(out), redirect_stderr(wrong):
            status = main([*map(str, arguments)])
        said = [(one.seek(0), one.read())[1] for one in (out, wrong)]
        return subprocess.CompletedProcess(arguments, status, *said)

    return call


class MakeOnce(Protocol):
    """Makes something for all processes of a test run."""

    def __call__(self, name: str, make: Callable[[Path], None]) -> Path: ...


@pytest.fixture(scope="session")
def make_once(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> MakeOnce:
    """Makes a folder once, however many processes share the tests."""
    base = tmp_path_factory.getbasetemp()
    if hasattr(request.config, "workerinput"):
        base = base.parent

    def once(name: str, make: Callable[[Path], None]) -> Path:
        done = base / f"{name} is made"
        while not done.exists():
            try:
                with folder_lock(str(base / f"{name} in the making"), name):
                    if not done.exists():
                        try:
                            make(base / name)
                        except OutputError as error:  # not that another has the lock
                            raise AssertionError(f"{name} cannot be made") from error
                        done.touch()
            except OutputError:
                time.sleep(0.1)
        return base / name

    return once


@pytest.fixture(scope="session")
def notebook(
    make_once: MakeOnce, run_journal: RunJournal, demo_content: Path, project: Path
) -> Path:
    """The demo notebook, built in the studio's edition; only to be read."""

    def make(out: Path) -> None:
        ask = ("build", "--content", demo_content, "--out", out)
        kept = str(out.with_name(KEPT_OF_DEMO))
        done = run_journal(*ask, cwd=project, JOURNAL_WORKERS=FORKED, JOURNAL_CACHE=kept)
        assert done.returncode == 0, done.stdout + done.stderr

    return make_once("notebook", make)


@pytest.fixture(scope="session")
def edition_of(
    make_once: MakeOnce, run_journal: RunJournal, demo_content: Path, project: Path, notebook: Path
) -> Callable[[str], Path]:
    """The demo notebook, built in another edition with what is kept of it; only to be read."""
    kept = str(notebook.with_name(KEPT_OF_DEMO))

    def built(name: str) -> Path:
        def make(out: Path) -> None:
            ask = ("build", "--content", demo_content, "--out", out, "--edition", name)
            done = run_journal(*ask, cwd=project, PYTHONHASHSEED="1", JOURNAL_CACHE=kept)
            assert done.returncode == 0, done.stdout + done.stderr

        return make_once(f"{name} edition", make)

    return built


@pytest.fixture(scope="session", autouse=True)
def own_answers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What builds keep for the next run is kept among the tests' own files.

    Builds fork no processes but where that is looked at: the tests themselves are on all cores,
    and it takes half as long again.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JOURNAL_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))
        # A process that runs tests beside others is given a width; what is said is compared whole.
        patch.delenv("COLUMNS", raising=False)
        patch.setenv("JOURNAL_WORKERS", "1")
        yield


@pytest.fixture(scope="session", autouse=True)
def templates_compiled_once() -> Iterator[None]:
    """A template is compiled once in a process, not once for each theme that is read."""
    compiled: dict[tuple[object, ...], object] = {}
    compile_it = Environment.compile

    def known(self: Environment, source: str, *names: Any) -> object:
        # Filters may go into what is compiled.
        key = (type(self), source, *names, *sorted((n, id(f)) for n, f in self.filters.items()))
        if key not in compiled:
            compiled[key] = compile_it(self, source, *names)
        return compiled[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Environment, "compile", known)
        yield


@pytest.fixture(scope="session", autouse=True)
def answers_worked_out_once() -> Iterator[None]:
    """What takes long, such as the bond model of a case, is worked out once in a process, whatever
    a build has kept of it."""
    answer = AnswerCache.__call__

    @cache
    def once(function: Callable[..., Any]) -> Callable[..., Any]:
        return lru_cache(maxsize=None)(function)

    def known(self: AnswerCache, function: Callable[..., Any], /, *values: Any) -> Any:
        ours = function.__module__.startswith("journal.")
        return answer(self, once(function) if ours else function, *values)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(AnswerCache, "__call__", known)
        yield


@pytest.fixture(scope="session", autouse=True)
def photos_of_the_demo_made_once() -> Iterator[None]:
    """A photo of the demo is made smaller once in a process, however many notebooks show it.

    Only where a build asks for it; tests that ask for a photo themselves have it made.
    """
    of_demo = {photo_digest(path) for path in PROJECT.glob("content/designs/*/photos/*")}
    made: dict[tuple[str, bool], PreparedPhoto] = {}

    def known(path: Path, *, modern: bool = True, large: Executor | None = None) -> PreparedPhoto:
        key = (photo_digest(path), modern and prepare.modern_format())
        if key in made:
            return made[key]
        photo = prepare_photo(path, modern=modern, large=large)
        if photo.digest in of_demo:
            made[photo.digest, key[1]] = photo
        return photo

    with pytest.MonkeyPatch.context() as patch:
        for module in (prepare, shown_photos):
            patch.setattr(module, "prepare_photo", known)
        yield


@pytest.fixture(scope="session", autouse=True)
def no_network() -> Iterator[None]:
    """No test reaches beyond this machine, wherever it is run."""
    connect = socket.socket.connect

    def refuse(self: socket.socket, address: object) -> None:
        if self.family in (socket.AF_INET, socket.AF_INET6):
            host = address[0] if isinstance(address, tuple) else address
            if host not in ("127.0.0.1", "::1", "localhost"):
                raise AssertionError(f"a test reaches for {address}")
        connect(self, address)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", refuse)
        yield
