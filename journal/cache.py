"""The cache of the stages, from one run to the next: data, keyed by a digest of its inputs.

A stage has a row for each name: the key, the digest of the value, and a summary, which is small
and read for all names at once. The value itself lies in a file that its digest names, and is
decoded when it is looked up. Everything can be worked out anew: what is missing, spoilt or of
another version of the program is a miss.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Generic, TypeVar, TypeVarTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.output import CacheStore
from journal.records import codec

Value = TypeVar("Value")
Summary = TypeVar("Summary")
Outcome = TypeVar("Outcome")
Arguments = TypeVarTuple("Arguments")

#: Encoded values of one stage whose decoded forms are held at a time, in bytes; decoded they take
#: several times as much. A notebook of ten years has more than a process should hold.
MAX_DECODED_BYTES = 1 << 20
#: Answers kept that this run did not use: those of designs that did not change.
MAX_UNUSED_ANSWERS = 2000
#: Answers held decoded: the variants of a design use the same ones in turn.
MAX_DECODED_ANSWERS = 32


class LostCacheEntry(Exception):
    """A cached value that cannot be read any more: everything must be worked out anew."""


class CacheRow(Struct, Generic[Summary], frozen=True):
    """One value of a stage: the key of its inputs, its digest, its summary and its digest."""

    key: str
    digest: str
    summary: Summary
    summary_digest: str


class Cache:
    """The cache of one notebook.

    ``version`` names the program and the libraries: rows of another version are misses.
    """

    def __init__(self, store: CacheStore, version: str) -> None:
        self.store, self.version = store, version
        self._stages: list[Stage[Any, Any]] = []

    def stage(self, name: str, value: type[Value], summary: type[Summary]) -> Stage[Value, Summary]:
        """The rows of one stage, as the last run cached them."""
        stage = Stage(self, name, value, summary)
        self._stages.append(stage)
        return stage

    def keep_stages(self) -> None:
        """Write the rows of every stage in this run for the next run."""
        for stage in self._stages:
            stage.keep()

    def table(self, name: str, kind: Any) -> dict[str, Any]:
        """A small table of values of one type, by name; empty where there is none."""
        try:
            version, values = codec.decode(
                self.store.read(name) or b"", tuple[str, dict[str, kind]]
            )
        except codec.CodecError:
            return {}
        return values if version == self.version else {}

    def write_table(self, name: str, value: object) -> None:
        """Write a small table for the next run."""
        self.store.write(name, codec.encode((self.version, value)))


class Stage(Generic[Value, Summary]):
    """The rows of one stage: ``before`` those of the last run, ``rows`` those of this one."""

    def __init__(self, cache: Cache, name: str, value: type[Value], summary: type[Summary]) -> None:
        self._cache, self._store, self._name, self._kind = cache, cache.store, name, value
        self._decoded: OrderedDict[str, tuple[int, Value]] = OrderedDict()
        self._decoded_bytes = 0
        self._unwritten: dict[str, bytes] = {}
        self.rows: dict[str, CacheRow[Summary]] = {}
        self.before: dict[str, CacheRow[Summary]] = cache.table(name, CacheRow[summary])  # type: ignore[valid-type]

    def cached_row(self, name: str, key: str) -> CacheRow[Summary] | None:
        """The row of that name from the last run, if it was made from the same inputs."""
        row = self.before.get(name)
        if row is None or row.key != key:
            return None
        self.rows[name] = row
        return row

    def carry(self, name: str) -> None:
        """Keep the row of that name from the last run, if there is one, for the next."""
        if name in self.before:
            self.rows[name] = self.before[name]

    def add(self, name: str, key: str, data: bytes, summary: Summary) -> CacheRow[Summary]:
        """Cache a value that was made in this run; ``data`` is the value as encoded."""
        value_digest = codec.digest(data)
        if not self._store.write(self._file(value_digest), data):
            self._unwritten[value_digest] = data
        row = self.rows[name] = CacheRow(key, value_digest, summary, codec.digest_of(summary))
        return row

    def row(
        self, name: str, key: str, make: Callable[[], tuple[bytes, Summary]]
    ) -> CacheRow[Summary]:
        """The row of that name; the value is made if no cached one has the same inputs."""
        return self.cached_row(name, key) or self.add(name, key, *make())

    def revise(self, name: str, summary: Summary) -> None:
        """Replace the summary of a value of this run."""
        row = self.rows[name]
        self.rows[name] = replace(row, summary=summary, summary_digest=codec.digest_of(summary))

    def drop(self, name: str) -> None:
        """Leave a value of this run out of the cache."""
        del self.rows[name]

    def values(self, names: Iterable[str] | None = None) -> codec.LazyValues[Value]:
        """The values of this run by name, each decoded when it is looked up."""
        digests = {name: self.rows[name].digest for name in (self.rows if names is None else names)}
        return codec.LazyValues(digests, lambda name: self.load(digests[name]), digests.__getitem__)

    def summaries(self, names: Iterable[str]) -> DigestedValues[Summary]:
        """The summaries of this run by name."""
        rows = {name: self.rows[name] for name in names}
        return DigestedValues(
            {name: row.summary for name, row in rows.items()},
            {name: row.summary_digest for name, row in rows.items()},
        )

    def load(self, value_digest: str) -> Value:
        """The value of that digest.

        Fails:  LostCacheEntry if it cannot be read any more
        """
        if value_digest in self._decoded:
            self._decoded.move_to_end(value_digest)
            return self._decoded[value_digest][1]
        data = self._unwritten.get(value_digest) or self._store.read(self._file(value_digest))
        try:
            if data is None:
                raise LostCacheEntry(value_digest)
            value: Value = codec.decode(data, self._kind)
        except codec.CodecError as error:
            raise LostCacheEntry(value_digest) from error
        self._decoded[value_digest] = (len(data), value)
        self._decoded_bytes += len(data)
        while self._decoded_bytes > MAX_DECODED_BYTES and len(self._decoded) > 1:
            _, (size, _) = self._decoded.popitem(last=False)
            self._decoded_bytes -= size
        return value

    def keep(self) -> None:
        """Write the rows of this run for the next, and delete all other values of the stage.

        A value that could not be written has no row: the next run makes it, and nothing else.
        """
        if self.rows != self.before:
            rows = {n: row for n, row in self.rows.items() if row.digest not in self._unwritten}
            self._cache.write_table(self._name, rows)
            files = {self._file(row.digest) for row in rows.values()}
            self._store.clear(f"{self._name}.", but=files)

    def _file(self, value_digest: str) -> str:
        """The name of a value's file in the store."""
        return f"{self._name}.{value_digest}"


class DigestedValues(dict[str, Value]):
    """Values in memory, with digests that were worked out before."""

    def __init__(self, values: Mapping[str, Value], digests: Mapping[str, str]) -> None:
        super().__init__(values)
        self._digests = digests

    def digest(self, name: str) -> str:
        """The digest of a value."""
        return self._digests[name]


class AnswerCache:
    """Answers of pure functions that take long, such as the bond model's, by their arguments.

    An answer is worked out once, in whichever run and process first calls for it. A worker
    process hands back what it worked out: see ``with_new_answers`` and ``add``.
    """

    def __init__(self, cache: Cache) -> None:
        self._cache = cache
        self._before: dict[str, bytes] | None = None
        self._answers: dict[str, bytes] = {}
        self._decoded: dict[str, Any] = {}

    def load_earlier(self) -> Mapping[str, bytes]:
        """The answers of earlier runs; read once, before processes are forked or at the first
        call."""
        if self._before is None:
            self._before = self._cache.table(_TABLE, bytes)
        return self._before

    def __call__(
        self, function: Callable[[*Arguments], Outcome], /, *values: *Arguments
    ) -> Outcome:
        """The function's answer to these values, cached or worked out now."""
        key = codec.digest(f"{function.__module__}.{function.__qualname__}", repr(values))
        if key not in self._decoded:
            data = self._answers.get(key) or self.load_earlier().get(key)
            answer: Any = None
            if data is not None:
                try:
                    answer = codec.decode(data, codec.return_type(function))
                except codec.CodecError:
                    data = None
            if data is None:
                answer = function(*values)
                data = codec.encode(answer)
            if len(self._decoded) >= MAX_DECODED_ANSWERS:
                self._decoded.clear()
            self._decoded[key], self._answers[key] = answer, data
        outcome: Outcome = self._decoded[key]
        return outcome

    def with_new_answers(self, task: Callable[[], Outcome]) -> tuple[Outcome, Mapping[str, bytes]]:
        """The outcome of a task, and the answers that were new to this process."""
        before = len(self._answers)
        outcome = task()
        if len(self._answers) == before:
            return outcome, {}
        return outcome, dict(list(self._answers.items())[before:])

    def add(self, answers: Mapping[str, bytes]) -> None:
        """Add the answers that another process worked out."""
        self._answers.update(answers)

    def keep(self) -> None:
        """Write the answers for the next run: those of this one, and the latest of earlier ones."""
        if not self._answers.keys() <= (self._before or {}).keys():
            unused = [item for item in self.load_earlier().items() if item[0] not in self._answers]
            self._before = {**dict(unused[-MAX_UNUSED_ANSWERS:]), **self._answers}
            self._cache.write_table(_TABLE, self._before)


_TABLE = "answers"


def retry_without_cache(
    store: CacheStore,
    work: Callable[[CacheStore], Outcome],
    forget: Callable[[], None] = lambda: None,
) -> Outcome:
    """Do some work with a cache; if that turns out spoilt, empty it and do the work once more.

    What is lost again another command has cleared away, which is at work on the same content, as
    a build beside a preview: then the work is done without a cache. ``forget`` drops what this
    process still holds of it.
    """
    for _ in range(2):
        try:
            return work(store)
        except LostCacheEntry:
            store.clear("")
            forget()
    return work(CacheStore(None))
