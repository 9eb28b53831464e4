"""``journal schema``: what each key means, where an editor can read it."""

from __future__ import annotations

import argparse
import json
import os
from pathlib import Path
from typing import Final

from journal.cli.terminal import counted, print_lines
from journal.errors import UsageError
from journal.output import OutputFile, write_file, write_notebook
from journal.records.codec import digest
from journal.records.notebook import read_notebook
from journal.records.schema import PATTERNS, names_of, schemas

# Editors and the journal alike pass over folders whose name begins with a dot.
FOLDER: Final = ".schema"
SETTINGS: Final = "settings.json"
# The setting by which a language server for YAML is told which schema is for which files;
# editors that speak the language server protocol pass it on (YAML language server, README).
ASSOCIATIONS: Final = "yaml.schemas"


def schema(args: argparse.Namespace) -> int:
    """Run ``journal schema``: write the schemas, and the settings that an editor needs."""
    folder = args.dir if args.dir is not None else args.content / FOLDER
    by_kind = schemas(names_of(read_notebook(args.content)))
    files = {schema_file(kind): _json(content) for kind, content in by_kind.items()}
    settings = args.settings if args.settings is not None else folder / SETTINGS
    associations = _json({ASSOCIATIONS: schema_associations(folder, settings)})
    if args.settings is None:
        files[SETTINGS] = associations
    elif _differs(settings, associations):
        raise UsageError(
            f'"{settings}" is there already, and says other things',
            f"Put these lines into it yourself:\n{associations.decode()}",
        )
    real = os.path.join(os.path.realpath(args.content), FOLDER)
    if args.dir is None and os.path.realpath(folder) != real:
        raise UsageError(f'"{folder}" is a link', "Name the folder: journal schema DIR.")
    parts = [OutputFile(name, digest(data), data.__bytes__) for name, data in sorted(files.items())]
    write_notebook(folder, parts, stamp={})
    if args.settings is not None:
        write_file(settings, associations)
    print_lines(f"Wrote {counted(len(by_kind), 'schema')} into {folder}.")
    if args.settings is None:
        print_lines(
            f"Copy {settings} to where your editor keeps the settings of a folder, or have it"
            " written there: journal schema --settings FILE"
        )
    else:
        print_lines(f"An editor finds them by the settings in {settings}.")
    return 0


def schema_file(name: str) -> str:
    """The name of the file with the schema of a kind."""
    return f"{name}.schema.json"


def schema_associations(folder: Path, settings: Path) -> dict[str, str]:
    """The pattern of the files that each schema is for, by the schema's place.

    Takes:  folder    of the schemas
            settings  the editor's file; places are relative to the folder that the editor
                      opens, which is the one over a folder with a dot, such as the schemas'
    Gives:  the schema's place -> a pattern of files. A write-up is not among them: a language
            server for YAML takes its head and its prose for two documents, and finds faults in both
    """
    opened = settings.resolve().parent
    if opened.name.startswith("."):
        opened = opened.parent
    path = Path(os.path.relpath(folder.resolve(), opened)).as_posix()
    path = path if path.startswith("..") else f"./{path}"
    return {
        f"{path}/{schema_file(name)}": pattern
        for name, pattern in PATTERNS.items()
        if not pattern.endswith(".md")
    }


def _differs(path: Path, content: bytes) -> bool:
    """Whether there is a file of that path with other bytes."""
    try:
        return path.read_bytes() != content
    except FileNotFoundError:
        return False
    except OSError as error:
        raise UsageError(f'"{path}" cannot be read: {error.strerror}', "Name another.") from None


def _json(value: object) -> bytes:
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode()
