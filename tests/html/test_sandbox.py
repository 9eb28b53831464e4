"""Templates that come with a notebook run nothing, touch nothing, and take no more than they may.

The ways out that are tried are those of Jinja's own sandbox that were published, in the
changelog of Jinja (jinja.palletsprojects.com, "Changes") and in the GitHub advisories named
beside them, and those of the same kind that its documentation of the sandbox warns of. Each
would run with the rights of the maker if templates were set as the program's own are.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from case_notebooks import laid_out
from jinja2 import Environment
from markupsafe import Markup

from journal.cli import main
from journal.errors import ContentError
from journal.html import sandbox as sandbox_module
from journal.html.bench_page import PhotoCardPage
from journal.html.blocks import Link, Page, PageFrame, Paragraph, Passage, Section
from journal.html.confined import ConfinedEnvironment, fault_of, template_faults
from journal.html.messages import Request, Sources
from journal.html.sandbox import Sandbox, read_own_theme
from journal.html.theme import own_theme_problems, read_theme, themes_folder

FRAME = PageFrame("A studio", "", (Link("Latest", "index.html", here=True),))
PAGE = Page(FRAME, "Salt", (Section("a", "A part", (Passage((Paragraph(("Words",)),)),)),))
SHARED = {
    path.name: path.read_text("utf-8")
    for path in (themes_folder() / "desk" / "templates").glob("*.html")
}


class _Untouched:
    """Stands for a value that does something when it is asked to."""

    def __init__(self) -> None:
        self.done = False

    def unlink(self) -> str:
        self.done = True
        return ""


def set_with(source: str, page: object = PAGE) -> str:
    """A page set with one template, by the rules of the process but in this one."""
    environment = ConfinedEnvironment(Sources({"page.html": source}, SHARED))
    return environment.get_template("page.html").render(page=page)


#: What each reaches for was got at, in the open, by a template of its kind.
WAYS_OUT = {
    # The documented names that lead to the modules behind them.
    "cycler": '{{ cycler.__init__.__globals__.os.system("false") and "" }}',
    "joiner": "{{ joiner.__init__.__globals__.os }}",
    "namespace": "{{ namespace.__init__.__globals__.os }}",
    "a namespace": "{{ namespace(a=1).__class__.__init__.__globals__ }}",
    "lipsum": "{{ lipsum.__globals__['os'] }}",
    "lipsum by its item": "{{ lipsum['__globals__'] }}",
    "range": "{{ range.__globals__ }}",
    "dict": "{{ dict.__base__ }}",
    # From any value up to object and down to all classes.
    "mro": "{{ ''.__class__.__mro__[1].__subclasses__() }}",
    "mro by items": "{{ ''['__class__']['__mro__'] }}",
    "base of a list": "{{ [].__class__.__base__ }}",
    "of a number": "{{ (1).__class__ }}",
    "of the view": "{{ page.__class__.__module__ }}",
    "fields of the view": "{{ page.__struct_fields__ }}",
    "config of the view": "{{ page.__struct_config__ }}",
    "of a tuple": "{{ page.parts.__class__ }}",
    "of nothing": "{{ none.__class__ }}",
    # Jinja 2.8.1, CVE-2016-10745: str.format; 2.10.1, CVE-2019-10906: str.format_map.
    "format": "{{ '{0.__class__.__init__.__globals__}'.format(page) }}",
    "format_map": "{{ '{a.__class__}'.format_map({'a': page}) }}",
    "format of HTML": "{{ ('{0.__class__}'|safe).format(page) }}",
    # 3.1.5, CVE-2024-56326: a format method that is kept and called by something else.
    "format kept": "{% set f = '{0.__class__}'.format %}{{ f(page) }}",
    "format by map": "{{ ['{0.__class__}']|map('format', page)|list }}",
    "format as a filter": "{{ '%s'|format(page) }}",
    "format as an operator": "{{ '%s' % page }}",
    # 3.1.6, CVE-2025-27516: the filter attr gives the format method.
    "attr": "{{ ''|attr('__class__') }}",
    "attr of format": "{{ ('{0.__class__}'|attr('format'))(page) }}",
    "attr in capitals of code": "{{ ''|attr('\\x5f\\x5fclass\\x5f\\x5f') }}",
    "an item in code": "{{ ''['\\x5f\\x5fclass\\x5f\\x5f'] }}",
    "a name put together": "{{ ''['__cla' ~ 'ss__'] }}",
    "map": "{{ ['']|map(attribute='__class__')|list }}",
    "selectattr": "{{ ['']|selectattr('__class__')|list }}",
    "rejectattr": "{{ ['']|rejectattr('__class__')|list }}",
    "groupby": "{{ ['']|groupby('__class__')|list }}",
    "sort": "{{ ['', '']|sort(attribute='__class__.__mro__') }}",
    "join": "{{ ['']|join(attribute='__class__') }}",
    "sum": "{{ ['']|sum(attribute='__class__', start='') }}",
    "unique": "{{ ['']|unique(attribute='__class__')|list }}",
    "max": "{{ ['', '']|max(attribute='__class__') }}",
    # What templates are run with.
    "self": "{{ self.__init__.__globals__ }}",
    "context of self": "{{ self._TemplateReference__context }}",
    "context of self as an item": "{{ self['_TemplateReference__context'] }}",
    "environment": "{{ self._TemplateReference__context.environment }}",
    "macro": "{% macro m() %}{% endmacro %}{{ m.__init__.__globals__ }}",
    "function of a macro": "{% macro m() %}{% endmacro %}{{ m._func.__globals__ }}",
    "caller": "{% macro m() %}{{ caller.__init__ }}{% endmacro %}{% call m() %}{% endcall %}",
    "imported": "{% import 'setting.html' as set %}{{ set.__class__ }}",
    "imported body": "{% import 'setting.html' as set %}{{ set._body_stream }}",
    "loop": "{% for a in (1,) %}{{ loop._iterator.gi_frame }}{% endfor %}",
    "loop's class": "{% for a in (1,) %}{{ loop.__class__.__init__.__globals__ }}{% endfor %}",
    "block": "{% block b %}{{ self.b.__init__ }}{% endblock %}",
    "super": "{% extends 'page.html' %}{% block main %}{{ super.__init__ }}{% endblock %}",
    # Frames of what is running, and what web frameworks give to their templates.
    "generator": "{{ ([1]|reverse).gi_frame }}",
    "generator's code": "{{ (['']|unique).gi_code }}",
    "coroutine": "{{ ([1]|unique).cr_frame }}",
    "async generator": "{{ ([1]|unique).ag_frame }}",
    "method": "{{ page.title.upper.__self__ }}",
    "request": "{{ request.application.__globals__ }}",
    "config": "{{ config.items() }}",
    "g": "{{ g.pop.__globals__ }}",
    "url_for": "{{ url_for.__globals__ }}",
    "builtins": "{{ __builtins__ }}",
    "globals": "{{ globals() }}",
    "open": "{{ open('/etc/passwd').read() }}",
    # Files beside the theme.
    "include out": "{% include '../../../../../../etc/passwd' %}",
    "include from the root": "{% include '/etc/passwd' %}",
    "import out": "{% import '../journal.yaml' as a %}",
    "extends out": "{% extends '../journal.yaml' %}",
    "from out": "{% from '/etc/passwd' import a %}",
    "a name made up": "{% include page.title ~ '.html' %}",
    # 3.1.3 and 3.1.4, CVE-2024-22195 and CVE-2024-34064: names of attributes that end them.
    "xmlattr": "{{ {'a onclick=alert(1)': 'b'}|xmlattr }}",
    "xmlattr with a slash": "{{ {'a/onclick': 'b'}|xmlattr }}",
    "tojson": "{{ page|tojson }}",
    "pprint": "{{ page|pprint }}",
    "urlize": "{{ page.title|urlize(target='\"x') }}",
    # Statements that Jinja has as extensions.
    "do": "{% do page.parts.append(1) %}",
    "debug": "{% debug %}",
    # Numbers and texts without an end.
    "a long text": "{{ 'a' * 1000000000 }}",
    "a long list": "{{ [0] * 1000000000 }}",
    "a large number": "{{ 9 ** 9 ** 9 }}",
    "a padded number": "{{ '%1000000000d' % 1 }}",
    "a wide text": "{{ 'a'|center(1000000000) }}",
    "a long range": "{{ range(1000000000)|length }}",
    "filled up": "{{ [1]|batch(1000000000, 0)|list }}",
    "growing numbers": "{% set n = namespace(n=10) %}{% for i in range(30) %}"
    "{% set n.n = n.n * n.n %}{% endfor %}",
    # What is given is changed by nobody.
    "changed": "{{ page.parts.append(1) }}",
    "set": "{% set page.title = 'Sand' %}",
    "emptied": "{{ {'a': 1}.clear() }}",
    "nothing of that name": "{{ page.titel }}",
}


@pytest.mark.parametrize("source", WAYS_OUT.values(), ids=WAYS_OUT.keys())
def test_no_way_out_of_a_template(source: str) -> None:
    sources = Sources({"own.html": source}, SHARED)
    with pytest.raises(Exception) as raised:  # whichever: it is put into words
        ConfinedEnvironment(sources).get_template("own.html").render(page=PAGE)
    fault = fault_of(raised.value, sources.own)
    assert (fault.kind, fault.template, fault.line) in (
        ("forbidden", "own.html", 1),
        ("template", "own.html", 1),
    )


def test_a_value_that_does_something_is_never_asked_to() -> None:
    value = _Untouched()
    plain = Environment(autoescape=True)
    assert plain.from_string("{{ v.unlink() }}").render(v=value) == ""
    assert value.done
    value.done = False
    with pytest.raises(Exception, match="unlink"):
        set_with("{{ page.unlink() }}", value)
    assert not value.done


def test_an_error_of_the_template_brings_nothing_to_the_terminal() -> None:
    sandbox = Sandbox({"own.html": "{% include '\x1b[2J\u202e' %}"}, {})
    with pytest.raises(ContentError) as raised:
        sandbox.set_page("own.html", PAGE)
    assert "[2J" in str(raised.value)
    assert str(raised.value).isprintable()
    assert str(sandbox.problems()[0]).isprintable()


def test_what_a_theme_needs_is_there() -> None:
    source = (
        "{% import 'setting.html' as set %}{% set n = namespace(last='') %}"
        "{% macro twice(a) %}{{ a }}{{ a }}{% endmacro %}"
        "{% for part in page.parts %}{{ loop.index }}{{ part.head|upper }}{{ set.part(part) }}"
        "{% set n.last = part.anchor %}{% endfor %}{{ n.last }}{{ twice(page['title']) }}"
        "{{ page.title.replace('S', 'M') }}{{ page.parts[0].passages[0].blocks[0].block }}"
        "{{ 'much' if 2 * 3 > 5 }}{% block b %}in{% endblock %}{{ self.b() }}"
    )
    html = set_with(source)
    assert "1A PART" in html
    assert "<p>Words</p>" in html
    assert "aSaltSaltMaltsaidmuchinin" in html


# In a process of its own ------------------------------------------------------------------


@pytest.fixture
def content(tmp_path: Path) -> Path:
    (tmp_path / "theme").mkdir()
    return tmp_path


def refused(content: Path, source: str, name: str = "page.html") -> str:
    (content / "theme" / name).write_text(source, "utf-8")
    with pytest.raises(ContentError) as raised:
        read_theme(content=content).set_page(name, PAGE)
    return str(raised.value)


def test_a_command_is_not_run(content: Path, tmp_path: Path) -> None:
    there = tmp_path / "there"
    line = f'one\n{{{{ cycler.__init__.__globals__.os.system("touch {there}") and "" }}}}'
    plain = Environment(autoescape=True).from_string(line)
    if sys.platform != "win32":
        assert plain.render() == "one\n0"
        assert there.exists()
        there.unlink()
    assert refused(content, line).startswith("theme/page.html:2:1: the template ")
    assert not there.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="nothing measures the processor there")
def test_loops_within_loops_end(content: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sandbox_module, "PAGE_S", 1.0)
    # On a busy machine the clock would end it first, which does not know the line.
    monkeypatch.setattr(sandbox_module, "_CLOCK", 240)
    turn = "{% for a in range(99999) %}"
    end = "{% endfor %}"
    message = refused(content, f"one\n{turn}{turn}{turn}{end}{end}{end}")
    assert message.startswith("theme/page.html:2:1: the template takes more than 1 s to set one ")


def test_what_hears_no_signal_is_ended_by_the_clock(
    content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # One call that does not come back to the interpreter.
    monkeypatch.setattr(sandbox_module, "_CLOCK", 2)
    monkeypatch.setattr(sandbox_module, "PAGE_S", 0.5)
    grows = "{% set n = namespace(t='ab') %}{% for i in range(22) %}{% set n.t = n.t + n.t %}"
    source = f"{grows}{{% endfor %}}{{{{ n.t.replace('a', n.t).replace('b', n.t) }}}}"
    message = refused(content, source)
    assert message.startswith("theme/page.html:1:1: the template takes more ")


@pytest.mark.skipif(sys.platform == "win32", reason="nothing bounds the memory there")
def test_a_text_that_doubles_ends(content: Path) -> None:
    grows = "{% set n = namespace(t='ab') %}{% for i in range(40) %}\n{% set n.t = n.t + n.t %}"
    message = refused(content, f"{grows}{{% endfor %}}")
    assert message.startswith("theme/page.html:2:1: the template takes more memory than one page")


def test_a_page_without_an_end_ends(content: Path) -> None:
    grows = "{% set n = namespace(t='abcdefgh') %}{% for i in range(16) %}{% set n.t = n.t + n.t %}"
    source = f"{grows}{{% endfor %}}{{% for i in range(9999) %}}\n{{{{ n.t }}}}{{% endfor %}}"
    message = refused(content, source)
    assert message.startswith("theme/page.html:2:1: the template sets a page of more than 4 MB.")


def test_the_next_page_is_set_after_a_fault(content: Path) -> None:
    (content / "theme" / "page.html").write_text("{{ page.titel }}", "utf-8")
    (content / "theme" / "safety.html").write_text("{{ page.title }} of old", "utf-8")
    theme = read_theme(content=content)
    with pytest.raises(ContentError):
        theme.set_page("page.html", PAGE)
    assert theme.set_page("safety.html", PAGE).endswith("Salt of old")


def test_a_process_that_was_killed_is_told_and_another_begun() -> None:
    sandbox = Sandbox({"own.html": "{{ page.title }}"}, {})
    assert sandbox.set_page("own.html", PAGE) == "Salt"
    setter = next(iter(sandbox._by_fork.values()))
    setter._process.kill()
    setter._process.wait()
    with pytest.raises(ContentError, match=r"^theme/own\.html:1:1: the template takes more memory"):
        sandbox.set_page("own.html", PAGE)
    assert sandbox.set_page("own.html", PAGE) == "Salt"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="nothing is forked here")
def test_a_forked_process_has_one_of_its_own(project: Path) -> None:
    script = (
        "import os\n"
        "from journal.html.blocks import Page, PageFrame\n"
        "from journal.html.sandbox import Sandbox\n"
        "sandbox = Sandbox({'own.html': '{{ page.title }}'}, {})\n"
        "page = Page(PageFrame('A', '', ()), 'Salt', ())\n"
        "sandbox.set_page('own.html', page)\n"
        "child = os.fork()\n"
        "said = [sandbox.set_page('own.html', page) for _ in range(3)]\n"
        "if child == 0: os._exit(0 if said == ['Salt'] * 3 else 1)\n"
        "assert os.waitpid(child, 0)[1] == 0\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True, timeout=300, cwd=project)


@pytest.mark.skipif(sys.platform == "win32", reason="walls of the system")
def test_the_walls_hold_for_code_that_got_out_all_the_same(tmp_path: Path) -> None:
    """Whatever is run in the process, by whatever way that nobody knows of yet."""
    tried = f"""
import sys
sys.path[:] = {sys.path!r}
import os, socket, subprocess, ctypes
from journal.html import confined
kept = open({str(tmp_path / "kept")!r}, "w")
kept.close()
confined._confine()
def got(what):
    try:
        what()
    except (PermissionError, OSError):
        return False
    return True
done = [
    name for name, what in {{
        "opens": lambda: open("/etc/hosts"),
        "writes": lambda: open({str(tmp_path / "new")!r}, "w"),
        "unlinks": lambda: os.unlink({str(tmp_path / "kept")!r}),
        "lists": lambda: os.listdir("/"),
        "runs": lambda: os.system("true"),
        "starts": lambda: subprocess.run(["true"]),
        "forks": lambda: os.fork(),
        "connects": lambda: socket.socket(),
        "loads": lambda: ctypes.CDLL(None),
        "imports": lambda: __import__("sqlite3"),
    }}.items() if got(what)
]
print(done)
"""
    said = subprocess.run(
        [sys.executable, "-c", tried], capture_output=True, text=True, check=True, timeout=300
    )
    assert said.stdout.strip() == "[]"
    assert (tmp_path / "kept").exists()


def test_what_is_no_view_is_a_fault_of_the_program() -> None:
    with pytest.raises(TypeError, match="nothing that a theme is given"):
        Sandbox({"own.html": ""}, {}).set_page("own.html", Path())  # type: ignore[arg-type]


def test_every_kind_of_view_arrives_as_it_was() -> None:
    photo = PhotoCardPage(FRAME, "a4", Markup("<svg></svg>"), "25 mm", "Card")
    sandbox = Sandbox({"own.html": "{{ page.card }}{{ page.title }}"}, {})
    assert sandbox.set_page("own.html", photo) == "<svg></svg>Card"
    assert Request(page=photo).page is photo


# Before any page --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "says"),
    [
        ("one\n{% if %}", "2:1: the template says something that cannot be set: Expected an"),
        ("one\n{{ ''.__class__ }}", "2:1: the template reaches for something that a theme may not"),
        ("\n\n{{ ''['__class__'] }}", "3:1: the template reaches for something that a theme may"),
        ("{{ lipsum() }}", "1:1: the template reaches for something that a theme may not use: it "),
        ("{{ ''|attr('a') }}", "1:1: the template says something that cannot be set: No filter"),
        ("{% include 'vellum.html' %}", "1:1: the template says something that cannot be set: the"),
    ],
)
def test_a_check_tells_what_can_be_known(content: Path, source: str, says: str) -> None:
    (content / "theme" / "safety.html").write_text(source, "utf-8")
    told = [str(problem) for problem in own_theme_problems("desk", content)]
    assert told
    assert told[0].startswith(f"theme/safety.html:{says}")


def test_a_check_is_silent_on_a_sound_theme(content: Path) -> None:
    for name, source in SHARED.items():
        (content / "theme" / name).write_text(source, "utf-8")
    assert own_theme_problems("desk", content) == ()


def test_a_check_in_this_process_says_the_same() -> None:
    found = template_faults(
        ConfinedEnvironment(Sources({"a.html": "{{ a.__class__ }}", "b.html": "{% x %}"}, {}))
    )
    assert [(fault.template, fault.kind) for fault in found] == [
        ("a.html", "forbidden"),
        ("b.html", "template"),
    ]


def test_links_out_of_the_folder_are_not_followed(content: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", "utf-8")
    for name in ("page.html", "colours.css", "note.txt"):
        at = content / "theme" / name
        try:
            at.symlink_to(secret)
        except OSError:
            pytest.skip("no links can be made here")
        with pytest.raises(ContentError, match=f"^theme/{name}:1:1: the file is a link out of the"):
            read_own_theme(content)
        assert [problem.position.path for problem in own_theme_problems("desk", content)] == [
            f"theme/{name}"
        ]
        at.unlink()
    (content / "theme" / "part.html").write_text("in", "utf-8")
    (content / "theme" / "page.html").symlink_to("part.html")
    assert read_own_theme(content)["page.html"] == "in"


def test_a_folder_that_is_a_link_out_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "page.html").write_text("out", "utf-8")
    try:
        (tmp_path / "content" / "theme").symlink_to(tmp_path / "elsewhere")
    except OSError:
        pytest.skip("no links can be made here")
    with pytest.raises(ContentError, match=r"^theme:1:1: the folder is a link out of the notebook"):
        read_own_theme(tmp_path / "content")


@pytest.mark.skipif(sys.platform == "win32", reason="no such names there")
def test_names_of_templates_are_plain(content: Path) -> None:
    # Jinja 3.1.5, CVE-2024-56201: a name ended up in what was compiled.
    (content / "theme" / "a{x}'+b.html").write_text("", "utf-8")
    with pytest.raises(ContentError, match="the name of a template has other signs"):
        read_own_theme(content)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_not_waited_for(content: Path) -> None:
    os.mkfifo(content / "theme" / "page.html")
    with pytest.raises(ContentError, match="this is no ordinary file"):
        read_own_theme(content)


def test_colours_alone_need_no_process(content: Path) -> None:
    (content / "theme" / "colours.css").write_text(":root { --ink: #111 }", "utf-8")
    theme = read_theme(content=content)
    assert theme.own is None
    assert theme.set_page("page.html", PAGE) == read_theme().set_page("page.html", PAGE)


def test_it_ends_with_the_program(project: Path) -> None:
    script = (
        "from journal.html.blocks import Page, PageFrame\n"
        "from journal.html.sandbox import Sandbox\n"
        "sandbox = Sandbox({'own.html': ''}, {})\n"
        "sandbox.set_page('own.html', Page(PageFrame('A', '', ()), 'Salt', ()))\n"
        "print(next(iter(sandbox._by_fork.values()))._process.pid)\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=project
    )
    with pytest.raises(ProcessLookupError):
        os.kill(int(said.stdout), signal.SIGTERM if sys.platform == "win32" else 0)


def test_every_page_is_what_the_program_sets_but_for_its_policy(tmp_path: Path) -> None:
    content = tmp_path / "content"
    laid_out(None, content)
    for out in ("plain", "own"):
        assert main(["build", "--content", str(content), "--out", str(tmp_path / out)]) == 0
        (content / "theme").mkdir(exist_ok=True)
        (content / "theme" / "safety.html").write_text(SHARED["safety.html"], "utf-8")
    drawn = re.compile(
        r"<meta http-equiv=[^>]*>\n|<script src=[^>]*></script>\n|<script>addEvent.*?</script>\n"
    )
    plain = {
        path.relative_to(tmp_path / "plain"): path.read_text("utf-8")
        for path in (tmp_path / "plain").rglob("*.html")
    }
    assert len(plain) > 15
    templates = set()
    for path, html in plain.items():
        own = (tmp_path / "own" / path).read_text("utf-8")
        if path.parts[0] == "bench":  # set by the program alone, whatever comes with a notebook
            assert own == html
            continue
        assert own != html
        assert drawn.sub("", own) == drawn.sub("", html)
        templates.add(path.parts[0])
    assert {"cards", "designs", "sheets"} <= templates
