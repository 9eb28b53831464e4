"""Options of template compilation: every text is escaped, unknown names are errors."""

from __future__ import annotations

from typing import Any, Final

from jinja2 import StrictUndefined, nodes
from jinja2.compiler import CodeGenerator, Frame


class EscapingCodeGenerator(CodeGenerator):
    """Compiles templates to escape by ``shown``, which caches texts that recur on a page.

    The hook is the one that Jinja's own native templates use; without it Jinja would escape
    as it always does, only slower.
    """

    def _output_child_pre(
        self, node: nodes.Expr, frame: Frame, finalize: CodeGenerator._FinalizeInfo
    ) -> None:
        if frame.eval_ctx.autoescape and not frame.eval_ctx.volatile and finalize.src is None:
            self.write("environment.shown(")
        else:
            super()._output_child_pre(node, frame, finalize)


#: The options of an environment. autoescape: a title with "<" in it is a title;
#: StrictUndefined: a misspelt name is an error and not an empty space on a card.
ENVIRONMENT_OPTIONS: Final[dict[str, Any]] = {
    "undefined": StrictUndefined,
    "autoescape": True,
    "trim_blocks": True,
    "lstrip_blocks": True,
    "keep_trailing_newline": True,
    "auto_reload": False,
}
