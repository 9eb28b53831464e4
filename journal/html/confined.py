"""Templates that came with a notebook, rendered where they can do no harm.

This is the process that ``sandbox`` starts. There are four walls, one behind the other:
templates reach only what is listed; the views are plain data; the interpreter refuses files,
processes and connections; the system limits memory and time and opens no file.

Published ways out of Jinja's own sandbox, each of which a test tries:
CVE-2016-10745, CVE-2019-10906, CVE-2024-56201, CVE-2024-56326, CVE-2025-27516.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import chain
from types import BuiltinMethodType, MethodType, TracebackType
from typing import Any, Final, Literal, NoReturn

from jinja2 import (
    FunctionLoader,
    TemplateError,
    TemplateNotFound,
    TemplateSyntaxError,
    Undefined,
    nodes,
)
from jinja2.exceptions import SecurityError
from jinja2.filters import FILTERS as JINJA_FILTERS
from jinja2.meta import find_undeclared_variables
from jinja2.runtime import BlockReference, Context, LoopContext, Macro, TemplateReference
from jinja2.sandbox import ImmutableSandboxedEnvironment, safe_range
from jinja2.utils import Namespace
from markupsafe import Markup

from journal.html import messages
from journal.html.escaping import ENVIRONMENT_OPTIONS, EscapingCodeGenerator
from journal.html.filters import FILTERS, shown

try:
    import resource
except ImportError:  # there is none on Windows: see ``sandbox`` for what bounds it there
    resource = None  # type: ignore[assignment]

#: Memory limit of the process, interpreter included; the largest index needs a tenth.
MEMORY_BYTES: Final = 512 * 1024 * 1024
#: CPU time limit of the process in all, so that an abandoned one ends by itself.
LONGEST_S: Final = 3600

# What a template may call and read beside the fields of its view. ----------------------

_TEXT_METHODS: Final = frozenset(
    ("upper", "lower", "title", "capitalize", "strip", "lstrip", "rstrip", "startswith",
     "endswith", "removeprefix", "removesuffix", "replace", "split")
)  # fmt: skip
_LISTED_ATTRIBUTES: Final[Mapping[type, frozenset[str]]] = {
    str: _TEXT_METHODS,
    Markup: _TEXT_METHODS,
    dict: frozenset(("items", "keys", "values", "get")),
    BlockReference: frozenset(("super",)),
    LoopContext: frozenset(
        ("index", "index0", "revindex", "revindex0", "first", "last", "length", "depth",
         "depth0", "previtem", "nextitem", "cycle", "changed")
    ),
}  # fmt: skip
_NOTHING: Final[frozenset[str]] = frozenset()
#: The modules whose classes a page is made of.
_VIEW_MODULES: Final = frozenset(
    ("journal.charts.drawing", "journal.html.bench_page", "journal.html.blocks",
     "journal.html.card_page", "journal.html.true_size")
)  # fmt: skip
#: Jinja's own filters. None that formats, and none that reads or writes attributes named by
#: its argument (CVE-2024-22195, CVE-2024-34064).
_JINJA_FILTERS: Final = (
    "abs", "capitalize", "count", "d", "default", "dictsort", "e", "escape", "first", "float",
    "forceescape", "int", "items", "join", "last", "length", "list", "lower", "max", "min",
    "replace", "reverse", "round", "safe", "sort", "string", "striptags", "sum", "title", "trim",
    "truncate", "unique", "upper", "urlencode", "wordcount",
)  # fmt: skip
_CALLABLE: Final = (Macro, BlockReference, LoopContext, BuiltinMethodType, MethodType)
#: Globals of Jinja that a theme does not have.
_MISSING_GLOBALS: Final = ("cycler", "dict", "joiner", "lipsum")


class _AllowedAttributes(dict[type, frozenset[str]]):
    """The readable attributes by a value's type; for views their fields and properties."""

    def __missing__(self, kind: type) -> frozenset[str]:
        allowed = _NOTHING
        if kind.__module__ in _VIEW_MODULES:
            fields: tuple[str, ...] = getattr(kind, "__struct_fields__", ())
            fields = fields or getattr(kind, "_fields", ())
            own = (base for base in kind.__mro__ if base.__module__ in _VIEW_MODULES)
            members = (one for base in own for one in vars(base).items())
            properties = {name for name, of in members if isinstance(of, property)}
            allowed = frozenset((*fields, *properties, *({"block"} & set(vars(kind)))))
        self[kind] = allowed
        return allowed


_ALLOWED: Final = _AllowedAttributes(_LISTED_ATTRIBUTES)


class ConfinedEnvironment(ImmutableSandboxedEnvironment):
    """The environment of a notebook's templates, which reach only what is listed."""

    code_generator_class = EscapingCodeGenerator
    shown = staticmethod(shown)
    intercepted_binops = frozenset(("*", "**", "%"))

    def __init__(self, sources: messages.Sources) -> None:
        self.sources = sources
        super().__init__(loader=FunctionLoader(self._source), **ENVIRONMENT_OPTIONS)
        self.globals = {"range": safe_range, "namespace": Namespace}
        self.filters = {name: JINJA_FILTERS[name] for name in _JINJA_FILTERS} | dict(FILTERS)

    def _source(self, name: str) -> tuple[str, str, Callable[[], bool]] | None:
        own = self.sources.own.get(name)
        source = own if own is not None else self.sources.shared.get(name)
        return None if source is None else (source, name, lambda: True)

    def handle_exception(self, source: str | None = None) -> NoReturn:
        """Raise the error unchanged; ``fault_of`` finds its line in the template."""
        error = sys.exception()
        assert error is not None
        raise error

    def getattr(self, obj: Any, attribute: str) -> Any:
        """A listed attribute or a field of a view; everything else is undefined or an error."""
        if attribute in _ALLOWED[type(obj)]:
            return getattr(obj, attribute)
        if isinstance(obj, Undefined):
            obj._fail_with_undefined_error()  # names what is not there
        if attribute[:1] != "_":
            kind = type(obj)
            if kind.__module__ == "jinja2.environment" and kind.__name__ == "TemplateModule":
                if attribute in vars(obj):  # a macro that was imported
                    return vars(obj)[attribute]
            elif kind is Namespace:
                with suppress(AttributeError):
                    return getattr(obj, attribute)  # it answers with what was set in it
            elif kind is TemplateReference or kind is dict:
                with suppress(KeyError):
                    return obj[attribute]
            if not hasattr(kind, attribute):
                return self.undefined(obj=obj, name=attribute)
        return self.undefined(_out_of_reach_text(attribute, obj), exc=SecurityError)

    def getitem(self, obj: Any, argument: Any) -> Any:
        """An item of a list, text or mapping; else the attribute of that name as in ``getattr``."""
        if isinstance(obj, (tuple, list, str, dict)):
            with suppress(TypeError, LookupError):
                return obj[argument]
        if isinstance(argument, str):
            return self.getattr(obj, str.__str__(argument))
        return self.undefined(obj=obj, name=argument)

    def call(__self, __context: Context, __obj: Any, *args: Any, **kwargs: Any) -> Any:
        """Call a macro, a block or a listed method; SecurityError for everything else."""
        if type(__obj) not in _CALLABLE and __obj is not safe_range and __obj is not Namespace:
            if isinstance(__obj, Undefined):
                __obj._fail_with_undefined_error()
            raise SecurityError(f"it calls a value of the type {type(__obj).__name__}")
        return __context.call(__obj, *args, **kwargs)

    def call_binop(self, context: Context, operator: str, left: Any, right: Any) -> Any:
        """Compute with numbers up to 2**53; SecurityError for texts, larger numbers and powers."""
        for value in (left, right):
            if not isinstance(value, (int, float)) or abs(value) > 2**53:
                raise SecurityError(f'"{operator}" is for numbers of an ordinary size')
        if operator == "**":
            raise SecurityError('"**" is left out')
        return super().call_binop(context, operator, left, right)


def _out_of_reach_text(name: str, of: Any) -> str:
    return f'it asks for "{name}" of a value of the type {type(of).__name__}'


# One page ------------------------------------------------------------------------------


class _OutOfTime(BaseException):
    """The CPU time limit of a page was exceeded."""


class _TooLong(Exception):
    """A page became longer than the limit."""


def set_page(environment: ConfinedEnvironment, request: messages.Request) -> bytes:
    """The page of a request, rendered, as UTF-8.

    Fails:  with anything that a template may raise; ``fault_of`` puts it into words
    """
    template = environment.get_template(request.template)
    context = template.new_context({"page": request.page})
    # Rendered piece by piece, so that a page that never ends is noticed early.
    parts: list[str] = []
    length = 0
    texts: Generator[str, None, None] = template.root_render_func(context)  # type: ignore[assignment]
    for text in texts:
        length += len(text)
        if length > request.most_bytes:
            texts.throw(_TooLong(f"{request.most_bytes // 1_000_000} MB"))  # where it is just now
        parts.append(text)
    return "".join(parts).encode("utf-8", "surrogatepass")


def fault_of(error: BaseException, own: Mapping[str, str]) -> messages.TemplateFault:
    """An error put into words, with its place in the notebook's ``own`` templates.

    If none of these is to blame, the template's name is "".
    """
    name, line = _line_in_own_template(error, own)
    if isinstance(error, _OutOfTime):
        return messages.TemplateFault("time", "", name, line)
    if isinstance(error, MemoryError):
        return messages.TemplateFault("memory", "", name, line)
    if isinstance(error, _TooLong):
        return messages.TemplateFault("size", str(error), name, line)
    kind: Literal["forbidden", "template"] = (
        "forbidden" if isinstance(error, (SecurityError, PermissionError)) else "template"
    )
    if isinstance(error, TemplateNotFound):
        what = _missing_text(error.name)
    elif isinstance(error, TemplateError) and error.message:
        what = error.message
    else:
        what = f"{type(error).__name__}: {error}"
    if not name:
        shared = _innermost_template(error, lambda _: True)
        what = f"in the theme's own {shared[0]}, line {shared[1]}: {what}" if shared else what
    return messages.TemplateFault(kind, what[:_MESSAGE_LENGTH].rstrip(". "), name, line)


def _missing_text(name: object) -> str:
    return f'there is no template "{name}"'


#: An error message longer than this is cut off, since a template may have written it.
_MESSAGE_LENGTH: Final = 300


def _line_in_own_template(error: BaseException, own: Mapping[str, str]) -> tuple[str, int]:
    """The name of the own template to blame, and the line; ("", 1) if none is."""
    if isinstance(error, TemplateSyntaxError) and error.name in own:
        return str(error.name), error.lineno
    return _innermost_template(error, lambda name: name in own) or ("", 1)


def _innermost_template(
    error: BaseException, matches: Callable[[str], bool]
) -> tuple[str, int] | None:
    """The innermost template in an error's trace that ``matches``, with the line; else None."""
    last = None
    trace: TracebackType | None = error.__traceback__
    while trace is not None:
        template = trace.tb_frame.f_globals.get("__jinja_template__")
        if template is not None and template.name and matches(template.name):
            last = (template.name, template.get_corresponding_lineno(trace.tb_lineno))
        trace = trace.tb_next
    return last


# All templates, before any page ---------------------------------------------------------


def template_faults(environment: ConfinedEnvironment) -> Iterator[messages.TemplateFault]:
    """The faults in the notebook's own templates that are found without rendering a page."""
    sources = environment.sources
    for name, source in sorted(sources.own.items()):
        try:
            tree = environment.parse(source, name)
            environment.compile(tree, name, name)
        except Exception as error:  # noqa: BLE001  # whatever a template makes the compiler raise
            fault = fault_of(error, sources.own)
            yield fault if fault.template else messages.TemplateFault(fault.kind, fault.what, name)
            continue
        yield from _faults_in_tree(name, tree, sources)


def _faults_in_tree(
    name: str, tree: nodes.Template, sources: messages.Sources
) -> Iterator[messages.TemplateFault]:
    """Faults seen in a parsed template: private names, missing globals, unknown templates."""
    accesses: Iterator[nodes.Getattr | nodes.Getitem]
    accesses = chain(tree.find_all(nodes.Getattr), tree.find_all(nodes.Getitem))
    for access in accesses:
        field = access.attr if isinstance(access, nodes.Getattr) else _constant_value(access.arg)
        if isinstance(field, str) and field.startswith("_"):
            yield messages.TemplateFault("forbidden", f'it asks for "{field}"', name, access.lineno)
    unknown = find_undeclared_variables(tree)
    for variable in tree.find_all(nodes.Name):
        if variable.name in _MISSING_GLOBALS and variable.name in unknown:
            yield messages.TemplateFault(
                "forbidden", f'it asks for "{variable.name}"', name, variable.lineno
            )
    for statement in tree.find_all((nodes.Extends, nodes.Import, nodes.FromImport, nodes.Include)):
        other = _constant_value(next(statement.iter_child_nodes(only=("template",))))
        missed = isinstance(other, str) and other not in sources.own and other not in sources.shared
        if missed and not getattr(statement, "ignore_missing", False):
            yield messages.TemplateFault("template", _missing_text(other), name, statement.lineno)


def _constant_value(node: nodes.Node) -> object:
    return node.value if isinstance(node, nodes.Const) else None


# The process ------------------------------------------------------------------------------

#: Audit events still allowed in the confined process (sys.addaudithook): compile and run
#: templates, look at a frame, set the time limit of a page.
_HARMLESS: Final = frozenset(
    ("compile", "exec", "sys._getframe", "code.__new__", "object.__getattr__", "builtins.id")
)


def _refuse(event: str, _: tuple[Any, ...]) -> None:
    """An audit hook that raises PermissionError unless the event is harmless."""
    if event not in _HARMLESS:
        raise PermissionError(f"it tries what a template may not ({event})")


def _confine() -> None:
    """Set the limits of the process, and refuse all but harmless actions, for good."""
    if resource is not None:
        bounds = {
            "RLIMIT_AS": MEMORY_BYTES,
            "RLIMIT_CPU": LONGEST_S,
            "RLIMIT_FSIZE": 0,
            "RLIMIT_NOFILE": 3,  # the streams that are open; no other is opened
            "RLIMIT_NPROC": 0,
            "RLIMIT_CORE": 0,
        }
        for name, bound in bounds.items():
            # Systems know different ones, and some refuse to be told so little.
            with suppress(AttributeError, ValueError, OSError):
                resource.setrlimit(getattr(resource, name), (bound, bound))
    sys.addaudithook(_refuse)


@contextmanager
def _cpu_time_limit(seconds: float) -> Iterator[None]:
    """Limit the block to ``seconds`` of CPU time; beyond that ``_OutOfTime`` is raised in it.

    Without interval timers there is no limit.
    """
    if not hasattr(signal, "setitimer"):
        yield
        return
    try:
        # Repeated, since a template may swallow the first.
        signal.setitimer(signal.ITIMER_PROF, seconds, 0.5)
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def _raise_out_of_time(*_: object) -> None:
    raise _OutOfTime


def serve() -> None:
    """Answer requests from standard input on standard output, until the input is closed.

    The first message has the templates' sources.
    """
    source, sink = sys.stdin.buffer, sys.stdout.buffer
    first = messages.receive(source)
    if first is None:
        return
    environment = ConfinedEnvironment(messages.SOURCES.decode(first[1]))
    # Whatever compiling loads is loaded before files are out of reach.
    environment.from_string("{{ 'a text' }}").render()
    if hasattr(signal, "SIGPROF"):
        signal.signal(signal.SIGPROF, _raise_out_of_time)
    _confine()
    while (message := messages.receive(source)) is not None:
        kind, data = _answer(environment, message[1])
        messages.send(sink, kind, data)


def _answer(environment: ConfinedEnvironment, message: bytes) -> tuple[bytes, bytes]:
    """The kind and data of the answer to a request: a page, or the faults."""
    try:
        request = messages.REQUEST.decode(message)
    except Exception as error:  # noqa: BLE001  # reported to the process that made the view
        return messages.WRONG, messages.ENCODER.encode(
            (messages.TemplateFault("program", f"{type(error).__name__}: {error}"),)
        )
    try:
        with _cpu_time_limit(request.seconds):
            if not request.template:
                return messages.WRONG, messages.ENCODER.encode(tuple(template_faults(environment)))
            return messages.PAGE, set_page(environment, request)
    except BaseException as error:  # noqa: BLE001  # also out of time, out of memory
        return messages.WRONG, messages.ENCODER.encode((fault_of(error, environment.sources.own),))
