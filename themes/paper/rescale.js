/* The sentence "For 24 bars" on a card can be written over: amounts.js says the amounts anew,
   leaves.js where the leaves break. Nothing is kept but what the page shows. */
(() => {
  "use strict";
  const { batch, said } = window.cardAmounts;
  const bars = (n, what = "bar") => `${n}\u00a0${what}${n === 1 ? "" : "s"}`;
  const sum = (list) => list.reduce((a, b) => a + b, 0);
  function made(name, words, named = "") {
    const found = document.createElement(name);
    if (named) found.className = named;
    found.append(...words);
    return found;
  }
  function roundsSaid(card, { round, rounds, last, pieces, masses: { all, round: one, last: rest } }) {
    const words = [], through = (text, steps) => words.push(made("b", [text]), ` through the mould. The steps are for ${steps}.`);
    if (rounds === 1 && card.cavities === null && !card.mat) return words;
    if (rounds === 1) words.push(`One round of the mould, ${bars(round)}.`);
    else if (!last) through(`${rounds} rounds of ${round}`, "one round");
    else through(`${rounds === 2 ? "One round" : `${rounds - 1} rounds`} of ${round}, then one of ${last}`, round);
    if (card.mat) {
      const few = card.cavities !== null && card.owned !== null && card.owned < card.cavities;
      words.push(` ${bars(pieces, "mat piece")} needed${few ? `, all that there are for ${card.cavities} cavities` : ""}.`);
    }
    const apart = (last ? rounds - 1 : rounds) * one.total + (last ? rest.total : 0);
    if (apart > 1.005 * all.total) words.push(" Melted round by round a little more stays in the jugs.");
    return words;
  }
  /* The amounts of a round: those of the line, for another scope. */
  function eachSaid(now, cell) {
    const words = [];
    if (now.rounds > 1 && cell.querySelector("[data-of]"))
      for (const scope of now.last ? ["round", "last"] : ["round"]) {
        const copy = cell.cloneNode(true);
        for (const one of copy.querySelectorAll("[data-of]")) one.dataset.scope = scope;
        words.push(`${words.length ? "; the last, of" : "a round of"}\u00a0${now[scope]}:\u00a0`);
        for (const node of [...copy.childNodes]) words.push(...(node.tagName === "SMALL" ? [" (", ...node.childNodes, ")"] : [node]));
      }
    return words;
  }

  /* One card: its leaves are taken apart once, and laid out again for each number. */
  function rescaled(first) {
    const card = JSON.parse(first.dataset.numbers), all = [...document.querySelectorAll(`[data-card="${first.dataset.card}"]`)];
    for (const [face, groups] of Object.entries(card.letters))
      card.letters[face] = Object.fromEntries(Object.entries(groups).flatMap(([width, letters]) => [...letters].map((letter) => [letter, +width])));
    const found = (what) => all.flatMap((leaf) => [...leaf.querySelectorAll(what)]);
    const [header, heading, line, number] = ["header", "h2", "header p", "header b"].map((what) => first.querySelector(what));
    const [caption] = found("caption"), [version] = found(".version"), id = heading.id;
    const whole = {
      title: heading.firstChild.data.trim(), sub: line.lastChild.data.trim(), rounds: made("p", [], "rounds"), weights: found("tr"), steps: found("li"),
      watch: found(".watch"), cautions: found(".cautions")[0],
    };
    let others = all.slice(1), [shown] = number.textContent.match(/\d+/);
    const input = made("input", []), noun = made("span", [number.textContent.slice(-4).trim()]), spoken = made("span", [], "spoken");
    Object.assign(input, { type: "number", min: 1, max: 100000, required: true, autocomplete: "off", inputMode: "numeric", value: shown });
    spoken.setAttribute("role", "status");
    number.className = "printed";
    line.prepend(made("label", ["For ", input, " ", noun], "ask"), spoken);

    function fill(article, n, count, { blocks, rows }, now) {
      const own = (kind) => blocks.filter((block) => block.kind === kind).map((block) => block.content);
      const [h2, p] = article.querySelectorAll("h2, header p"), corner = version.cloneNode(true), last = rows.at(-1);
      h2.id = n ? `${id}-${n + 1}` : id;
      article.setAttribute("aria-labelledby", h2.id);
      h2.className = count > 1 ? "of" : "";
      h2.replaceChildren(whole.title, ...(count > 1 ? [" ", made("small", [`${n + 1} of ${count}`])] : []));
      p.querySelector("b").textContent = `For\u00a0${bars(now.n)}`;
      const foot = rows.map((row) => made("div", row.map(({ text, span }) => made("span", [text], ["blank", "blank two", "blank three"][span - 1])), "line"));
      if (last && sum(last.map((blank) => blank.span)) < 3) foot.at(-1).append(corner);
      else foot.push(made("div", [corner], "line"));
      const table = own("weights"), steps = own("steps"), list = made("ol", steps), body = made("tbody", table);
      while (article.lastChild !== article.firstElementChild) article.lastChild.remove();
      article.append(...own("rounds"), ...(table.length ? [made("table", [caption.cloneNode(true), body])] : []), ...(steps.length ? [list] : []),
        ...own("watch"), ...own("cautions"), made("footer", foot));
    }
    function lay(n) {
      const now = batch(card, n), say = (root) => {
        for (const one of root.querySelectorAll("[data-of]")) one.textContent = said(card, now, one.dataset);
      };
      for (const row of whole.weights) {
        const [what, amount] = row.cells;
        what.querySelector("small")?.remove();
        const each = eachSaid(now, amount);
        if (each.length) what.append(made("small", each));
      }
      [...whole.weights, ...whole.steps].forEach(say);
      whole.rounds.replaceChildren(...roundsSaid(card, now));
      const { fit, leaves } = window.cardLeaves(card, { ...whole, bars: `For\u00a0${bars(n)}` });
      for (const leaf of others) leaf.parentNode.remove();
      others = leaves.slice(1).map(() => {
        const leaf = first.cloneNode(false);
        leaf.removeAttribute("data-numbers");
        leaf.append(header.cloneNode(true));
        for (const one of leaf.querySelectorAll(".ask, .spoken")) one.remove();
        return leaf;
      });
      [first, ...others].forEach((leaf, at, every) => {
        fill(leaf, at, every.length, leaves[at], now);
        leaf.className = `card ${fit}`.trim();
        if (at) every[at - 1].parentNode.after(made("div", [leaf], "sheet"));
      });
      noun.textContent = n === 1 ? "bar" : "bars";
      spoken.textContent = `${bars(n)}: ${bars(now.rounds, "round")}, ${leaves.length === 1 ? "one leaf" : `${leaves.length} leaves`}.`;
    }
    input.addEventListener("input", () => {
      if (!input.checkValidity() || +input.value === +shown) return;
      shown = input.value;
      lay(+shown);
    });
    input.addEventListener("change", () => { input.value = shown; });
  }
  document.querySelectorAll("[data-numbers]").forEach(rescaled);
})();
