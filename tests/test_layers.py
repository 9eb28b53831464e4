"""The straight line of modules: who may know whom, and who may do what.

Read from the syntax trees, so that an import within a function or for the types
only is seen as well.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from paths import PROJECT

PACKAGE = PROJECT / "journal"

#: Each room, or module of its own, may import what stands before it, and nothing after it.
LINE = (
    "errors",
    "quantities",
    "records.yaml",
    "records.models",
    "records.designs",
    "records.codec",
    "records.checks",
    "records.notebook",
    "records.scaffold",
    "records.taking",
    "records.schema",
    "figures.common",
    "figures.pieces",
    "figures.recipe",
    "figures.colour",
    "figures.heat",
    "figures.label",
    "figures.shop",
    "figures.lots",
    "figures.registry",
    "figures.derive",
    "figures.as_json",
    "figures.as_tables",
    "figures.day",
    "figures.derive_notebook",
    "figures.derive_needs",
    "comparison",
    "photos",
    "charts",
    "html",
    "views.shared",
    "views.lists",
    "views.shelf",
    "views.paper",
    "views.card",
    "views.design",
    "views.order",
    "views.index",
    "views.notebook",
    "output",
    "build_options",
    "cache_folder",
    "cache",
    "scan",
    "workers",
    "made_from",
    "edition_gate",
    "pipeline",
    "building",
    "api",
    "preview",
    "cli",
)
#: Tools of the pipeline, which know nothing of each other.
TOOLS = ("build_options", "cache_folder", "cache", "scan", "workers")
#: Start the program, and so may import anything; nothing imports them.
STARTERS = ("__main__",)
#: Most modules that a room holds.
MOST_MODULES = 24
#: Everything may read the version.
ROOT = "journal"

#: What pure figures may know of the rest: numbers come in, numbers go out.
PURE = ("figures", "comparison")
PURE_MAY_IMPORT = (
    "journal.errors",
    "journal.quantities.units",
    "journal.figures",
    "journal.comparison",
)
#: These take the numbers out of the records or lay them out again, and hold no formula.
TAKES_FROM_RECORDS = ("derive", "as_json", "as_tables", "registry")
#: These put figures into words, and so may round.
SAYS = ("sentences",)

#: Slow to import, so only within the function that uses them.
SLOW = ("numpy", "scipy", "PIL", "pillow_heif", "weasyprint")

Module = tuple[str, Path, ast.Module]


def modules() -> list[Module]:
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        steps = list(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        if steps[-1] == "__init__":
            steps.pop()
        found.append((".".join(steps), path, ast.parse(path.read_text("utf-8"))))
    return found


MODULES = modules()
NAMES = {name for name, _, _ in MODULES}


def layer(module: str) -> str:
    """The package of a module just below ours."""
    return module.split(".")[1] if "." in module else module


def room(module: str) -> str:
    """The entry of the line that a module belongs to; its own name where there is none."""
    inner = module.removeprefix(f"{ROOT}.")
    return next((name for name in LINE if f"{inner}.".startswith(f"{name}.")), inner)


def own_imports(name: str, path: Path, tree: ast.AST) -> Iterator[tuple[str, ast.stmt]]:
    """Modules of ours that a module imports, with the statement that does it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.split(".")[0] == ROOT:
                    yield alias.name, node
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: an import relative to the module"
            if node.module and node.module.split(".")[0] == ROOT:
                for alias in node.names:
                    inner = f"{node.module}.{alias.name}"
                    yield (inner if inner in NAMES else node.module), node


def place(path: Path, node: ast.AST) -> str:
    return f"{path.relative_to(PACKAGE.parent)}:{getattr(node, 'lineno', 1)}"


def test_every_module_stands_in_the_line() -> None:
    assert len(MODULES) > 200
    packages = {name for name in NAMES if any(other.startswith(f"{name}.") for other in NAMES)}
    strays = {room(name) for name in NAMES - packages} - {ROOT, *LINE, *STARTERS}
    assert not strays, f"say where in the line these stand: {sorted(strays)}"
    assert {room(name) for name in NAMES} >= set(LINE)


def test_no_room_is_a_hall() -> None:
    held = Counter(path.parent for _, path, _ in MODULES if path.stem != "__init__")
    assert {str(folder): n for folder, n in held.items() if n > MOST_MODULES} == {}


def test_imports_point_to_the_left() -> None:
    wrong = []
    for name, path, tree in MODULES:
        here = room(name)
        if here in STARTERS:
            continue
        for target, node in own_imports(name, path, tree):
            there = room(target)
            if there == ROOT:
                continue
            if here == ROOT or there in STARTERS or LINE.index(there) > LINE.index(here):
                wrong.append(f"{place(path, node)}: {here} may not know {there}")
    assert not wrong, "\n".join(wrong)


def test_class_names_are_unique() -> None:
    found: dict[str, list[str]] = {}
    for name, _, tree in MODULES:
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(name)
    assert {name: where for name, where in found.items() if len(where) > 1} == {}


def test_every_public_function_has_a_docstring() -> None:
    wrong = [
        f"{place(path, node)}: {node.name} says nothing of itself"
        for _, path, tree in MODULES
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert not wrong, "\n".join(wrong)


def test_the_tools_of_the_pipeline_know_nothing_of_each_other() -> None:
    found = {
        (layer(name), layer(target))
        for name, path, tree in MODULES
        if layer(name) in TOOLS
        for target, _ in own_imports(name, path, tree)
    }
    assert {here for here, _ in found} >= {"build_options", "cache", "scan"}
    assert not {(here, there) for here, there in found if there in TOOLS}
    # What looks at files and what keeps answers knows no page and no figure.
    allowed = {"output", "records", "errors"}
    assert {there for here, there in found if here != "build_options"} <= allowed


#: What pages may call of the modules that take figures out of records, and of no others: a card's
#: masses for another number of bars, or in another mould; one value that is looked up in the
#: design's own record; and where a book is opened, what nobody has worked out before.
PAGES_MAY_CALL = {
    "card.amounts": {"asked_of_dosed", "asked_of_oil", "round_limit", "round_masses",
                     "studio_tools"},
    "card.bench": {"derive_card", "design_plan", "places_of_recipe", "plan_pots_poured"},
    "card.card": {"derive_card", "places_of_recipe", "round_limit", "round_masses",
                  "scrapings_g"},
    "card.cards": {"design_in_another", "lost_variants"},
    "card.day_chart": {"poured_bars"},
    "card.steps": {"last_in_relief", "lines_of_pour", "piece_outline", "scorching_c"},
    "design.bars": {"body_temperature"},
    "design.cavities": {"body_temperature"},
    "design.heat": {"pot_windows"},
    "design.recipe": {"asked_of_dosed", "asked_of_oil", "face_area", "places_of_recipe",
                      "share_of_a_round"},
    "design.variants": {"compared_variants", "follow_up_day", "value_of"},
    "notebook": {"derive_notebook", "lost_choices", "studio_pot_rates"},
    "order.orders": {"round_names"},
    "order.words": {"line_title", "ordered_amounts"},
    "paper.pour_sheet": {"adding_window", "design_plan"},
    "shared.paper_places": {"trims_used"},
}  # fmt: skip


def test_pages_take_figures_and_work_none_out() -> None:
    """From ``figures/derive*.py`` pages take classes and constants; the rest is listed here."""
    taken: dict[str, set[str]] = {}
    for name, _, tree in MODULES:
        if layer(name) != "views":
            continue
        for node in ast.walk(tree):
            if not isinstance(node, ast.ImportFrom) or node.module is None:
                continue
            if node.module.startswith(("journal.figures.", "journal.comparison.")) and (
                node.module.rpartition(".")[2].startswith("derive")
            ):
                names = {alias.name for alias in node.names if not alias.name[0].isupper()}
                if names:
                    taken.setdefault(name.removeprefix("journal.views."), set()).update(names)
            elif node.module in ("journal.figures", "journal.comparison"):
                # A whole module would hide what is called of it.
                assert not any(alias.name.startswith("derive") for alias in node.names), name
    assert taken == PAGES_MAY_CALL


def test_no_module_of_ours_is_imported_late() -> None:
    wrong = []
    for name, path, tree in MODULES:
        at_the_head = {id(node) for node in tree.body}
        for node in tree.body:
            if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
                at_the_head.update(map(id, node.body))
        for target, node in own_imports(name, path, tree):
            if id(node) not in at_the_head:
                wrong.append(
                    f"{place(path, node)}: {target} is imported late, or under a condition"
                )
    assert not wrong, "\n".join(wrong)


def test_modules_import_each_other_in_no_ring() -> None:
    arrows = {
        name: {target for target, _ in own_imports(name, path, tree)} - {ROOT}
        for name, path, tree in MODULES
    }
    done: set[str] = set()

    def follow(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, f"a ring: {' -> '.join((*way[way.index(name) :], name))}"
        if name not in done:
            for target in sorted(arrows.get(name, ())):
                follow(target, (*way, name))
            done.add(name)

    for name in sorted(arrows):
        follow(name, ())


def test_figures_are_numbers_in_and_numbers_out() -> None:
    wrong = []
    for name, path, tree in MODULES:
        if layer(name) not in PURE or path.stem.startswith(TAKES_FROM_RECORDS):
            continue
        for target, node in own_imports(name, path, tree):
            may = ("journal.quantities",) if path.stem in SAYS else ()
            if not target.startswith((*PURE_MAY_IMPORT, *may)):
                wrong.append(f"{place(path, node)}: a pure figure may not know {target}")
            if target.rpartition(".")[2].startswith(TAKES_FROM_RECORDS):
                wrong.append(f"{place(path, node)}: a pure figure may not know {target}")
    assert not wrong, "\n".join(wrong)


def test_slow_libraries_are_imported_where_they_are_used() -> None:
    wrong = []
    for _, path, tree in MODULES:
        for node in tree.body:  # TYPE_CHECKING blocks are inside an if, functions are not run
            names = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else []
            )
            wrong += [
                f"{place(path, node)}: import {slow} within the function"
                for slow in names
                if slow.split(".")[0] in SLOW
            ]
    assert not wrong, "\n".join(wrong)


def test_help_imports_nothing_slow() -> None:
    """``journal --help`` answers at once: the libraries that take long are not loaded."""
    ask = (
        "import sys\nimport journal.cli\n"
        "try:\n    journal.cli.main(['--help'])\nexcept SystemExit:\n    pass\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        f"print(sorted(loaded & {set(SLOW)}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stderr.splitlines()[-1:] == ["[]"], done.stderr


#: Reading any of these back may run whatever stands in it.
RUNS_WHEN_READ = {"copyreg", "dbm", "dill", "marshal", "pickle", "shelve"}


def test_nothing_is_kept_in_a_form_that_runs_when_it_is_read() -> None:
    wrong = [
        f"{place(path, node)}: {name} may run what it reads"
        for _, path, tree in MODULES
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
        )
        if name.split(".")[0] in RUNS_WHEN_READ
    ]
    assert not wrong, "\n".join(wrong)


# Who may do what ---------------------------------------------------------------

#: Methods and functions that change files, by whom they are called on.
WRITES = {
    "os": {
        "chmod", "link", "makedirs", "mkdir", "remove", "removedirs", "rename", "renames",
        "replace", "rmdir", "symlink", "truncate", "unlink", "utime", "write",
    },
    "shutil": {
        "copy", "copy2", "copyfile", "copyfileobj", "copytree", "move", "rmtree", "make_archive",
        "unpack_archive",
    },
    "tempfile": {"mkstemp", "mkdtemp", "NamedTemporaryFile", "TemporaryDirectory", "TemporaryFile"},
}  # fmt: skip
#: Methods of a path that change files, whatever it is called.
PATH_WRITES = {
    "hardlink_to", "mkdir", "rmdir", "symlink_to", "touch", "unlink", "write_bytes", "write_text",
}  # fmt: skip
#: Answers that differ from one run to the next.
CHANGING = {
    "time": {"time", "time_ns", "localtime", "gmtime", "ctime", "strftime"},
    "datetime": {"now", "today", "utcnow"},
    "date": {"today"},
    "os": {"getenv", "urandom", "getpid", "getcwd"},
    "random": {"random", "randint", "choice", "choices", "shuffle", "sample", "uniform", "gauss"},
    "uuid": {"uuid1", "uuid4"},
    "secrets": {"token_hex", "token_bytes", "choice"},
    "locale": {"setlocale", "getlocale", "format_string"},
}


def called_on(node: ast.Call) -> tuple[str, str]:
    """What a call is made on, as its last name, and the name called."""
    if isinstance(node.func, ast.Attribute):
        on = node.func.value
        if isinstance(on, ast.Attribute):
            return on.attr, node.func.attr
        return (on.id if isinstance(on, ast.Name) else ""), node.func.attr
    return "", node.func.id if isinstance(node.func, ast.Name) else ""


def opens_for_writing(node: ast.Call, on: str, name: str) -> bool:
    if name != "open" or on in ("Image", "webbrowser"):
        return False
    at = 1 if on in ("", "io", "os", "gzip") else 0
    modes = [*node.args[at : at + 1], *(word.value for word in node.keywords if word.arg == "mode")]
    if on == "os":
        return any(flag in ast.dump(node) for flag in ("O_WRONLY", "O_RDWR", "O_CREAT"))
    return any(
        not isinstance(mode, ast.Constant) or any(letter in str(mode.value) for letter in "wax+")
        for mode in modes
    )


def writes(tree: ast.AST) -> Iterator[tuple[ast.Call, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            on, name = called_on(node)
            if (
                name in WRITES.get(on, ())
                or name in PATH_WRITES
                or opens_for_writing(node, on, name)
            ):
                yield node, f"{on}.{name}".lstrip(".")


def test_one_place_writes_files() -> None:
    wrong = [
        f"{place(path, node)}: {what} writes, which is for journal.output"
        for name, path, tree in MODULES
        if layer(name) != "output"
        for node, what in writes(tree)
    ]
    assert not wrong, "\n".join(wrong)
    ours = [
        what for name, _, tree in MODULES if layer(name) == "output" for _, what in writes(tree)
    ]
    assert len(ours) > 10, "the search finds nothing where there is something to find"


def changing(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            on, name = called_on(node)
            if name in CHANGING.get(on, ()):
                yield node, f"{on}.{name}"
            if name == "default_rng" and not node.args and not node.keywords:
                yield node, name
        elif isinstance(node, ast.Attribute) and node.attr == "environ":
            yield node, "os.environ"


#: What tools of the pipeline may ask beside the command line: where the cache is, how many cores
#: there are and which process this is, and how long ago a file was changed.
MAY_ASK = {
    "journal.cache_folder": {"os.environ"},
    "journal.workers": {"os.environ", "os.getpid"},
    "journal.scan": {"time.time_ns"},
}


def test_only_the_command_line_looks_at_the_clock_and_the_surroundings() -> None:
    found: dict[str, set[str]] = {}
    wrong = []
    for name, path, tree in MODULES:
        if layer(name) in ("cli", "preview"):
            continue
        for node, what in changing(tree):
            found.setdefault(name, set()).add(what)
            if what not in MAY_ASK.get(name, ()):
                wrong.append(f"{place(path, node)}: {what} differs from one run to the next")
    assert not wrong, "\n".join(wrong)
    assert found == MAY_ASK, "what nobody asks any more need not be allowed"


def test_one_module_asks_which_day_it_is() -> None:
    """So that SOURCE_DATE_EPOCH is heard wherever a date is written."""
    asking = {
        name
        for name, _, tree in MODULES
        for _, what in changing(tree)
        if what.startswith(("date.", "datetime.")) or what.endswith(("localtime", "gmtime"))
    }
    assert asking == {"journal.cli.clock"}


@pytest.mark.parametrize(
    "line",
    [
        "open('x', 'w')",
        "open('x', mode='ab')",
        "path.open('x')",
        "io.open('x', 'r+')",
        "os.open('x', os.O_CREAT | os.O_RDWR)",
        "path.write_text('x')",
        "(folder / 'x').write_bytes(b'')",
        "os.replace('a', 'b')",
        "shutil.rmtree('a')",
        "folder.mkdir(parents=True)",
        "tempfile.mkdtemp()",
    ],
)
def test_the_search_for_writing_bites(line: str) -> None:
    assert list(writes(ast.parse(line)))


@pytest.mark.parametrize(
    "line",
    [
        "open('x')",
        "open('x', 'rb')",
        "path.open('rb')",
        "'a'.replace('a', 'b')",
        "Image.open(x, 'r')",
    ],
)
def test_the_search_for_writing_lets_reading_pass(line: str) -> None:
    assert not list(writes(ast.parse(line)))


@pytest.mark.parametrize(
    "line",
    [
        "datetime.datetime.now()",
        "date.today()",
        "time.time()",
        "os.environ['TZ']",
        "random.random()",
        "np.random.default_rng()",
    ],
)
def test_the_search_for_what_changes_bites(line: str) -> None:
    assert list(changing(ast.parse(line)))


def test_a_seeded_generator_passes() -> None:
    assert not list(changing(ast.parse("np.random.default_rng(20260418)")))
