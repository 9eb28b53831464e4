"""The options of a build."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from journal.views.shared.editions import Edition


class BuildOptions(Struct, frozen=True):
    """The content to build from, the folder to write, and the options of the build.

    ``bars`` is the number of bars on the cards, None for each recipe's own; ``theme`` None takes
    that of the settings; with ``strict`` nothing is made where there is an error.
    """

    content: Path
    out: Path
    edition: Edition = "studio"
    bars: int | None = None
    theme: str | None = None
    strict: bool = False

    def stamp(self, content: str, program: str) -> dict[str, str]:
        """The identity of a finished notebook: digests of content and program, and the options."""
        return {
            "content": content,
            "program": program,
            "edition": self.edition,
            "bars": str(self.bars or ""),
            "theme": self.theme or "",
        }
