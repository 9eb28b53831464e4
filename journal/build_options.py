"""The options of a build."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from journal.views.shared.editions import Edition


class BuildOptions(Struct, frozen=True):
    """What is to be made: from which folder, into which, for whom, for how many bars, how set.

    ``theme`` None takes that of the settings; ``strict`` makes nothing where anything is wrong.
    """

    content: Path
    out: Path
    edition: Edition = "studio"
    bars: int | None = None
    theme: str | None = None
    strict: bool = False

    def stamp(self, content: str, program: str) -> dict[str, str]:
        """What identifies a notebook: digests of content and program, and the options."""
        return {
            "content": content,
            "program": program,
            "edition": self.edition,
            "bars": str(self.bars or ""),
            "theme": self.theme or "",
        }
