"""Templates as they were compiled, for whoever can keep them from one run to the next.

Compiling all templates of a theme takes as long as a dozen pages of designs; taking them
out of what was kept, no more than the reading of their files.
"""

from __future__ import annotations

import marshal
from contextlib import suppress
from typing import Any

from jinja2 import BytecodeCache, Environment, TemplateSyntaxError
from jinja2.bccache import Bucket


class Compiled(BytecodeCache):
    """The code of templates, each under the digest of its place and its text.

    ``ground`` tells apart what compiles them: the program and its libraries. ``kept`` is
    what ``packed`` gave in an earlier run; it is run as it is, so that it may only come
    from where nobody else can have put it. Of another ground it counts for nothing.
    """

    def __init__(self, ground: str, kept: bytes | None = None) -> None:
        self._ground = ground
        self._codes: dict[str, bytes] = {}
        self.changed = False
        if kept is not None:
            with suppress(ValueError, EOFError, TypeError):
                found: Any = marshal.loads(kept)
                if found[0] == ground:
                    self._codes = found[1]

    def packed(self) -> bytes:
        """All of it, to be kept."""
        return marshal.dumps((self._ground, self._codes))

    def compile_all(self, environment: Environment) -> None:
        """Compile what has no code yet; a template with a fault is left to the page it sets.

        What was changed or taken away since is forgotten.
        """
        loader = environment.loader
        assert loader is not None
        current = set()
        for name in environment.list_templates(extensions=["html"]):
            source, filename, _ = loader.get_source(environment, name)
            code = _name(self.get_cache_key(name, filename), self.get_source_checksum(source))
            current.add(code)
            if code not in self._codes:
                with suppress(TemplateSyntaxError):
                    environment.get_template(name)
        if self.changed:
            self._codes = {code: self._codes[code] for code in sorted(current & self._codes.keys())}

    def load_bytecode(self, bucket: Bucket) -> None:
        """The code of one template, if it is known."""
        code = self._codes.get(_name(bucket.key, bucket.checksum))
        if code is not None:
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Note the code of a template that was compiled."""
        self._codes[_name(bucket.key, bucket.checksum)] = bucket.bytecode_to_string()
        self.changed = True


def _name(key: str, checksum: str) -> str:
    return f"{key}-{checksum}"
