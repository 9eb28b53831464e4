"""``journal write-up``: a new design's folder, by options or in a short conversation."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.cli.clock import today
from journal.cli.photo_folder import photos_by_new_name
from journal.cli.terminal import counted, print_lines, wrapped
from journal.comparison.derive import notebook_scatters, possible_plan
from journal.comparison.planned.sentences import chance_sentences
from journal.errors import UsageError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.recipe.derive_fill import FILL
from journal.figures.recipe.derive_layers import recipe_masses
from journal.output import write_new_files
from journal.quantities.number import excerpt
from journal.quantities.show import show_mass_us
from journal.records.designs import design_of
from journal.records.models.fields import spelling_hint
from journal.records.models.shelf import KINDS
from journal.records.notebook import Notebook, read_notebook
from journal.records.scaffold import (
    NewWriteUp,
    id_of,
    new_write_up,
    with_last_amount,
    with_offered_test,
    write_up_from,
)
from journal.records.yaml.source import read_text

# So much of a cavity the layers and the piece fill; scent, colour and a brim have the rest.
# Common practice, no source.
FILLED_SHARE = 0.97


class Answers(Struct, frozen=True):
    """The answers that a new design begins with; None where the maker named nothing."""

    title: str
    origin: str | None
    mat: str | None
    mould: str | None


def write_up(args: argparse.Namespace) -> int:
    """Run ``journal write-up``; gives the exit status."""
    notebook = read_notebook(args.content)
    answers = _answers(notebook, args)
    photos = photos_by_new_name(args.photos) if args.photos is not None else {}
    folder = args.content / "designs"
    # Every name in the folder is taken, be it a design's or not.
    taken = sorted(entry.name for entry in folder.iterdir()) if folder.is_dir() else ()
    name, plain = id_of(answers.title, taken), id_of(answers.title, ())
    if name != plain and not args.yes and not _may_number(plain, name):
        print_lines("Nothing was written.")
        return 1
    text = _design_text(notebook, answers, tuple(photos))
    files: dict[str, bytes | Path] = {f"{name}/design.md": text.encode()}
    files.update({f"{name}/photos/{file}": path for file, path in photos.items()})
    write_new_files(files, args.content, "designs")
    print_lines(f"Wrote {folder / name / 'design.md'}.")
    if photos:
        print_lines(f"Copied {counted(len(photos), 'photo')}: say in the write-up what each shows.")
    print_lines(
        *_offered_test_lines(notebook, name, text),
        f"See it while you write: journal preview --content {args.content} --open",
    )
    return 0


def _answers(notebook: Notebook, args: argparse.Namespace) -> Answers:
    """The answers in the options; at a terminal it prompts for those that are left open."""
    interactive = args.title is None and sys.stdin.isatty() and sys.stdout.isatty()
    title = args.title if args.title is not None else (_prompt("Title") if interactive else "")
    if not title.strip():
        raise UsageError("the new design has no title", 'Write: journal write-up "Kelp on clay"')
    if not any(sign.isalnum() for sign in title):
        raise UsageError(
            f"the title {excerpt(title)} has no letter and no digit",
            'Write: journal write-up "Kelp on clay"',
        )
    designs = sorted(notebook.designs)
    origin = args.origin
    if origin is None and interactive and designs:
        origin = _choose("From which earlier design", designs)
    elif origin is not None and origin not in designs:
        raise UsageError(f'no design is called "{origin}"', spelling_hint(origin, designs))
    mat, mould = (
        _named_thing(notebook, kind, name, interactive and origin is None)
        for kind, name in (("mats", args.mat), ("moulds", args.mould))
    )
    return Answers(title, origin, mat, mould)


def _named_thing(notebook: Notebook, kind: str, name: str | None, interactive: bool) -> str | None:
    """The thing of the shelf that an option names, else the maker's choice; None for none."""
    names = sorted(notebook.shelf.of_kind(kind))
    if name is None and interactive and names:
        return _choose(KINDS[kind].noun.capitalize(), names)
    if name is not None and name not in names:
        raise UsageError(
            f'no {KINDS[kind].noun} "{name}" is on the shelf', spelling_hint(name, names)
        )
    return name


def _design_text(notebook: Notebook, answers: Answers, photos: tuple[str, ...]) -> str:
    """The text of the new write-up, taken over from the earlier design if one is named."""
    day = today()
    units: Literal["us", "metric"] = "us" if notebook.settings.units == "us" else "metric"
    if answers.origin is not None:
        path = notebook.designs[answers.origin].path
        answered = {"mat": answers.mat, "mould": answers.mould}
        changed = {key: value for key, value in answered.items() if value is not None}
        earlier = read_text(notebook.root, path)
        if answers.mould is not None:
            changed["bars"] = str(_bars_a_round(notebook, answers.mould))
        try:
            text = write_up_from(
                earlier, path, answers.origin, answers.title, day, changed, units, photos
            )
            body = None
            if answers.mould is not None:
                body = _body_that_fits(notebook, answers.title, text, units)
            return text if body is None else with_last_amount(text, body)
        except ValueError as error:
            raise UsageError(f'"{path}" cannot be taken over: {error}',
                             "Write each key on a line of its own there.") from None  # fmt: skip
    return new_write_up(
        _fitting(
            notebook,
            NewWriteUp(
                title=answers.title,
                day=day,
                base=_usual_base(notebook),
                mat=answers.mat,
                mould=answers.mould,
                bars=_bars_a_round(notebook, answers.mould),
                units=units,
                photos=photos,
            ),
        )
    )


def _offered_test_lines(notebook: Notebook, name: str, text: str) -> Iterator[str]:
    """How likely the test is to tell that a write-up with variants offers; else nothing."""
    draft = design_of(
        notebook.root, name, with_offered_test(text), notebook.settings, True, []
    )  # fmt: skip
    if draft is None or notebook.errors:
        return
    plan = possible_plan(notebook, draft.design, notebook_scatters(notebook))
    if plan is None:
        return
    names = " against ".join(plan.test.compared)
    yield f"It offers a test of {names} by {plan.measure.name}, below its recipe:"
    yield from wrapped(" ".join(chance_sentences(plan.chance, plan.chances, plan.measure)))


def _may_number(taken: str, name: str) -> bool:
    """Whether a design whose title is taken may be called ``name``: the maker's answer.

    Fails:  UsageError where nobody sits at a terminal
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError(
            f"designs/{taken} is there already",
            f"Give the new design another title, or make {name} with --yes.",
        )
    answer = _prompt(f"designs/{taken} is there already. Make {name}? (y; Enter for no)")
    return answer.casefold() in ("y", "yes")


def _usual_base(notebook: Notebook) -> str:
    """The base that was written up last, else the first on the shelf."""
    bases = notebook.shelf.bases
    if not bases:
        raise UsageError("there is no base on the shelf", "Write one into shelf/bases.yaml first.")
    latest = sorted(notebook.designs.values(), key=lambda design: (design.date, design.id))
    for design in reversed(latest):
        for layer in design.recipe.layers:
            for base, _ in layer.base.shares:
                if base in bases:
                    return base
    return next(iter(bases))


def _bars_a_round(notebook: Notebook, mould: str | None) -> int:
    """The bars of one round through the mould; 6 if the shelf does not say."""
    record = notebook.shelf.moulds.get(mould or "")
    if record is None or record.cavities is None:
        return 6
    return record.cavities * (record.bars_each or 1)


def _fitting(notebook: Notebook, new: NewWriteUp) -> NewWriteUp:
    """The same values with a body that its cavity holds, where that can be worked out."""
    body = _body_that_fits(notebook, new.title, new_write_up(new), new.units)
    return new if body is None else replace(new, body=body)


def _body_that_fits(
    notebook: Notebook, title: str, text: str, units: Literal["us", "metric"]
) -> str | None:
    """How much of its last layer the cavity of a write-up holds; None where that is not known."""
    draft = design_of(notebook.root, id_of(title, ()), text, notebook.settings, True, [])
    if draft is None:
        return None
    design = draft.design
    context = RecipeContext(
        notebook.settings, notebook.shelf, design, design.as_written, design.recipe.bars
    )
    filled = context.figure(FILL).value
    if filled is None:
        return None
    body = recipe_masses(context).layers[-1]
    body_ml = body.volume_ml_per_bar * filled.cut_into
    free_ml = FILLED_SHARE * filled.capacity_ml[0] - filled.piece_ml - (filled.poured_ml - body_ml)
    mass_g = body.base_g_per_bar * free_ml / body_ml
    if mass_g < 1:
        return None
    return show_mass_us(mass_g, (1.0,), "down") if units == "us" else f"{Decimal(mass_g):.0f} g"


# The conversation ------------------------------------------------------------------


def _choose(question: str, names: Sequence[str]) -> str | None:
    """Prompt until the answer is one of the names; None for Enter alone. Tab completes."""
    _complete_with_tab(names)
    shown = ", ".join(names[:8]) + (", …" if len(names) > 8 else "")
    while True:
        answer = _prompt(f"{question} ({shown}; Enter for none)")
        if not answer:
            return None
        if answer in names:
            return answer
        print_lines(f'"{answer}" is not there. {spelling_hint(answer, names)}')


def _prompt(question: str) -> str:
    """The answer that the maker types; UsageError at the end of the input."""
    try:
        return input(f"{question}: ").strip()
    except EOFError:
        raise UsageError("the conversation ended early", "Nothing was written.") from None


def _complete_with_tab(names: Sequence[str]) -> None:
    """Let Tab fill in the names, where the terminal can."""
    try:
        import readline
    except ImportError:  # Windows has none
        return

    def complete(text: str, state: int) -> str | None:
        fitting = [name for name in names if name.startswith(text)]
        return fitting[state] if state < len(fitting) else None

    readline.set_completer(complete)
    readline.set_completer_delims(" ")
    readline.parse_and_bind("tab: complete")
