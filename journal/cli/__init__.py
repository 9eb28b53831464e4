"""The program ``journal``: its arguments, the order of stages, its exit status."""

from __future__ import annotations

import atexit
import gc
import sys
from collections.abc import Sequence

from journal.cli.arguments import read_arguments
from journal.cli.signs import show_near_signs
from journal.cli.terminal import (
    UnwritableStream,
    end_writing,
    print_problems,
    print_text,
    print_usage_error,
)
from journal.errors import ContentError, HintedError

DONE, CONTENT_WRONG, WRONG_USE = 0, 1, 2

#: Records are made by the hundred thousand and hardly any is in a circle: to look through them
#: after every 700 for what could be thrown away takes a tenth of a build. So many are enough.
COLLECT_AFTER = 50_000


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; gives the exit status: 0, 1 (the content has errors), 2 (wrong use), 130."""
    gc.set_threshold(COLLECT_AFTER, *gc.get_threshold()[1:])
    atexit.register(gc.freeze)  # nor at the end, for what is left
    show_near_signs(sys.stdout, sys.stderr)
    try:
        return _run(arguments)
    except UnwritableStream as error:
        end_writing(sys.stdout)
        try:
            print_usage_error(error)
        except UnwritableStream:
            end_writing(sys.stderr)
        return WRONG_USE
    except BrokenPipeError:
        # The reader of our output went away, such as head(1): not a failure of ours.
        end_writing(sys.stdout)
        return DONE


def _run(arguments: Sequence[str] | None) -> int:
    """Run one command and say what is wrong; gives the exit status."""
    try:
        args = read_arguments(sys.argv[1:] if arguments is None else arguments)
        status: int = args.run(args)
        return status
    except ContentError as error:
        print_problems(error.problems, getattr(args, "content", None))
        return CONTENT_WRONG
    except UnwritableStream:
        raise
    except HintedError as error:
        print_usage_error(error)
        return WRONG_USE
    except KeyboardInterrupt as stopped:
        print_text(f"Stopped; {str(stopped) or 'nothing was changed'}.\n", sys.stderr)
        return 130
