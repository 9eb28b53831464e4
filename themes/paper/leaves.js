/* Where a card breaks into leaves, as journal/views/card/layout.py has it, so that a card is
   printed alike however its number of bars came about: lines are counted with the widths of the
   fonts' letters, always to the safe side. */
window.cardLeaves = (() => {
  "use strict";
  const HAIR = 0.75, SAFE = 1.01, STRANGE = 1000, MM = 72 / 25.4;
  const sum = (list) => list.reduce((a, b) => a + b, 0);

  /* The texts of an element and the face that each is set in; what stands small is a line of its own. */
  const runs = (node, face = "regular") => [...node.childNodes].flatMap((one) =>
    one.nodeType === Node.TEXT_NODE ? [[one.data, face]]
      : one.tagName === "SMALL" ? []
        : runs(one, one.matches("b, .mind") ? "bold" : face));
  const small = (cell) => {
    const found = cell.querySelector("small");
    return found ? runs(found) : [];
  };

  /* The leaves of a whole card: for each its blocks, and the rows to write on.
     whole: {title, sub, bars, rounds, weights, steps, watch, cautions}, texts or elements. */
  return (card, whole) => {
    const { inner, deep } = card;
    const wide = (text, face, em) => sum([...text].map((letter) => card.letters[face][letter] ?? STRANGE)) * em / 1000 * SAFE;
    const bold = (parts, em) => sum(parts.map(([text]) => wide(text, "bold", em)));

    function lines(parts, room, em) {
      let count = 1, used = 0, word = [];
      const lay = () => {
        const widths = word.map(([text, face]) => wide(text, face, em)), all = sum(widths);
        if (used && used + all > room) { count++; used = 0; }
        if (all <= room) used += all;
        else for (const [text, face] of word) for (const letter of text) {
          const width = wide(letter, face, em);
          if (used + width > room) { count++; used = 0; }
          used += width;
        }
        word = [];
      };
      for (const [text, face] of parts) for (const part of text.split(/( )/)) {
        if (part === " ") {
          if (word.length) lay();
          used += wide(part, face, em);
        } else if (part) word.push([part, face]);
      }
      if (word.length) lay();
      return count;
    }
    const plainly = (text, room, em) => lines([[text, "regular"]], room, em);

    function set([fit, em]) {
      const every = lay(em, card.lines), needed = lay(em, card.lines.filter(([, spare]) => !spare));
      return { fit, leaves: every.length <= needed.length ? every : needed };
    }
    function lay(em, labels) {
      const label = 0.91 * em, big = 1.65 * em, rows = [[]], blocks = [];
      for (const [text] of labels) {
        const width = wide(text, "regular", label), column = 0.308 * inner;
        const span = width <= 0.72 * column ? 1 : width <= 0.75 * 2 * column ? 2 : 3;
        if (sum(rows.at(-1).map((blank) => blank.span)) + span > 3) rows.push([]);
        rows.at(-1).push({ text, span, high: span === 3 ? plainly(text, 0.75 * inner, label) : 1 });
      }
      const high = rows.map((row) => Math.max(7 * MM, 3.2 * MM + Math.max(...row.map((blank) => blank.high)) * 1.1 * label) + 0.2 * label + HAIR);
      const block = (kind, content, height) => blocks.push({ kind, content, height });
      if (whole.rounds.hasChildNodes()) block("rounds", whole.rounds, lines(runs(whole.rounds), inner, em) * 1.3 * em + 0.6 * em + HAIR);
      const right = Math.max(0, ...whole.weights.map(({ cells: [, cell] }) => Math.max(bold(runs(cell), big), bold(small(cell), big * 0.58))));
      for (const row of whole.weights) {
        const [what, amount] = row.cells, width = inner - right - 0.7 * em, each = small(what);
        let left = 0.3 * em + lines(runs(what), width, em) * 1.25 * em;
        if (each.length) left += lines(each, width, 0.92 * em) * 1.25 * 0.92 * em;
        const beside = (0.08 + 0.08) * big + 1.1 * big + (small(amount).length ? 1.2 * 0.58 * big : 0);
        block("weights", row, Math.max(left + 0.1 * em, beside) + HAIR);
      }
      for (const step of whole.steps) block("steps", step, Math.max(lines(runs(step), inner - 1.75 * em, em) * 1.3, 1.3) * em + 0.52 * em + HAIR);
      for (const words of whole.watch) block("watch", words, lines(runs(words), inner - 0.93 * em, em) * 1.3 * em);
      if (whole.cautions) block("cautions", whole.cautions, lines(runs(whole.cautions), inner, em) * 1.25 * em);

      function fill(one) {
        const title = lines([[whole.title, "title"]], inner - (one ? 0 : 3 * 1.75 * em), 1.75 * em);
        const sub = plainly(whole.sub, inner - (wide(whole.bars, "bold", 1.25 * em) + 0.7 * em), em);
        const head = title * 1.75 * 1.1 * em + Math.max(sub * 1.3 * em, 1.25 * 1.2 * em) + 0.2 * em + 0.3 * em + 0.15 * em;
        const room = deep - head - (0.5 * label + 1.7 * label), found = [];
        let used = 0, before = "";
        const begin = () => {
          found.push({ blocks: [], rows: [] });
          used = 0;
          before = "";
        };
        const held = () => found.at(-1).blocks.length + found.at(-1).rows.length;
        begin();
        for (const one of blocks) {
          const gap = () => one.kind === "watch" || one.kind === "cautions" ? 0.45 * em : one.kind === "steps" && before !== "steps" ? 0.3 * em : 0;
          if (held() && used + gap() + one.height > room) begin();
          found.at(-1).blocks.push(one);
          used += gap() + one.height;
          before = one.kind;
        }
        /* The lines to write on stay together at the foot of the last leaf, if one can hold them. */
        const total = sum(high), all = (blocks) => sum(blocks.map((one) => one.height + 0.45 * em));
        if (used + total > room && total <= room && held()) {
          /* What is to be minded comes with them: lines are not left alone. */
          const { blocks } = found.at(-1);
          let last = blocks.length;
          while (last > 1 && ["watch", "cautions"].includes(blocks[last - 1].kind)) last--;
          const moved = all(blocks.slice(last)) > room - total ? [] : blocks.splice(last);
          begin();
          found.at(-1).blocks = moved;
          used = all(moved);
        }
        rows.forEach((row, n) => {
          if (used + high[n] > room && held()) begin();
          found.at(-1).rows.push(row);
          used += high[n];
        });
        return found;
      }
      const alone = fill(true);
      return alone.length > 1 ? fill(false) : alone;
    }
    const settings = card.types.map(set), fewest = Math.min(...settings.map(({ leaves }) => leaves.length));
    return settings.find(({ leaves }) => leaves.length === fewest);
  };
})();
