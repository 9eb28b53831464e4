/* The amounts of a card for any number of bars. The sums are those of journal/figures in the
   same order, rounding is that of journal/quantities/rounding.py. */
window.cardAmounts = (() => {
  "use strict";
  const OZ = 28.349523125, TSP = 4.92892159375, FL_OZ = 29.5735295625, DROP = 0.05;
  const EIGHTHS = ["", "1/8", "¼", "3/8", "½", "5/8", "¾", "7/8"];
  const sum = (list) => list.reduce((a, b) => a + b, 0);
  const twelve = (x) => Number(x.toExponential(11));
  const of = (x, limits) => limits.find(([below]) => below === null || twelve(x) < below);
  const tight = (text) => text.replaceAll(" ", "\u00a0");
  const bars = (n, what = "bar") => `${n}\u00a0${what}${n === 1 ? "" : "s"}`;

  /* Whole numbers over a power of ten, so that a tie is a tie. */
  function digits(x) {
    const [mantissa, power] = x.toExponential(11).split("e");
    return [BigInt(mantissa.replace(".", "")), power - 11];
  }
  function rounded(x, step, down) {
    const [n, e] = digits(x), places = (step.split(".")[1] || "").length, shift = BigInt(e + places);
    const unit = BigInt(step.replace(".", ""));
    const whole = n * (shift > 0n ? 10n ** shift : 1n), size = unit * (shift < 0n ? 10n ** -shift : 1n);
    return [(down ? whole / size : (2n * whole + size) / (2n * size)) * unit, places];
  }
  function plain([n, places]) {
    const text = String(n).padStart(places + 1, "0");
    return places ? (text.slice(0, -places) + "." + text.slice(-places)).replace(/\.?0+$/, "") : text;
  }
  const large = ([n, places], small, big) =>
    n >= 10n ** BigInt(4 + places) ? plain([n, places + 3]) + big : plain([n, places]) + small;
  const show = {
    g: (x, scales, down) => large(rounded(x, of(x, scales)[1], down), " g", " kg"),
    "oil-g": (x, scales) => show.g(x, scales, true),
    us(x, scales) {
      const [n, places] = rounded(x / OZ, of(x, scales)[2]), pound = 16n * 10n ** BigInt(places);
      const rest = plain([n % pound, places]) + " oz";
      return n < pound ? rest : `${n / pound} lb` + (n % pound ? " " + rest : "");
    },
    ml: (x, _, down) => large(rounded(x, of(x, [[1, "0.01"], [100, "0.1"], [null, "1"]])[1], down), " mL", " L"),
    "oil-ml": (x) => show.ml(x, 0, true),
    drops(x) {
      const [n] = rounded(x / DROP, "1");
      return n + (n === 1n ? " drop" : " drops");
    },
    spoons(x) {
      const tsp = x / TSP, oz = x / FL_OZ;
      if (twelve(tsp) < 6) {
        const [n, e] = digits(tsp), [eighths] = rounded(8 * twelve(tsp), "1");
        const off = eighths * 125n * 10n ** BigInt(-e - 3) - n;
        if (eighths && (off < 0n ? -off : off) * 20n <= n) {
          const part = EIGHTHS[eighths % 8n], whole = eighths > 7n ? String(eighths / 8n) : "";
          return whole + (whole && part[1] ? " " : "") + part + " tsp";
        }
      }
      if (tsp < 6) return plain(rounded(tsp, "0.01")) + " tsp";
      return plain(rounded(oz, of(oz, [[0.1, "0.001"], [10, "0.01"], [null, "0.1"]])[1])) + " fl oz";
    },
    percent(share) {
      const x = share * 100, fine = Math.min(-9 - digits(x)[1], 6);
      const step = x > 0 && twelve(x) < 0.1 ? "0." + "1".padStart(fine, "0") : of(x, [[10, "0.01"], [null, "0.1"]])[1];
      return tight(plain(rounded(x, step)) + " %");
    },
  };

  /* What is melted and stirred in for so many bars. */
  function masses(card, n) {
    const layers = [], melts = [];
    const dosed = ([kind, value, per, perG, density, limit], base) => {
      const amount = kind === "share" ? value * base : per === "base" ? value / perG * base
        : per === "bar" ? value * n : value / card.of * n;
      return kind === "volume" ? { limit, ml: amount, g: density ? amount * density : null }
        : { limit, ml: density ? amount / density : null, g: amount };
    };
    for (const pot of card.pots) {
      const inside = pot.map((place) => card.layers[place]), stays = sum(inside.map((layer) => layer.g)) * n;
      const poured = stays + Math.max(...inside.map((layer) => layer.overpour)) * n;
      const all = Math.max(poured * (1 + card.waste[0]), poured + card.waste[1]);
      melts.push(all);
      inside.forEach(({ g, bases, dosed: doses, oils, scent }, at) => {
        const melt = all * (g * n / stays);
        const stirred = doses.map((dose) => dose && dosed(dose, melt)), scents = oils.map((dose) => dosed(dose, melt));
        const whole = melt + sum(stirred.map((one) => one?.g || 0)) + sum(scents.map((oil) => oil.g));
        if (scent) scents.push({ g: scent[0] * melt, limit: scent[1] });
        for (const oil of scents) oil.share = oil.g / whole;
        const used = sum(scents.filter((oil) => oil.limit).map((oil) => oil.share / oil.limit));
        layers[pot[at]] = { melt, bases: bases.map((share) => share * melt), stirred, scents, used, stays: whole * g / melt };
      });
    }
    return { layers, total: sum(melts) };
  }
  function batch(card, n) {
    const round = card.places === null ? n : Math.min(n, card.places * card.each), rounds = Math.ceil(n / round);
    const rest = n - round * (rounds - 1), last = rest === round ? 0 : rest, all = masses(card, n);
    return { n, round, rounds, last, pieces: Math.ceil(round / card.each),
      masses: { all, round: rounds === 1 ? all : masses(card, round), last: last && masses(card, last) } };
  }
  function overLimit({ used }, { share, limit }) {
    if (limit === null) return "no limit on the shelf: look at its certificate";
    if (!limit || share / limit > 1 + 1e-9) return `over its limit: ${show.percent(share)} of the layer, ${show.percent(limit)} allowed`;
    return used > 1 + 1e-9 ? `over the limit with the layer's other scent: ${show.percent(used)} of it` : "";
  }
  function about(card, x) {
    const us = tight(show.us(x, card.about)), g = tight(show.g(x, card.about));
    return card.us ? `${us} (${g})` : `${g} (${us})`;
  }
  /* What stands in an element of the card, by its data-of, data-show, data-scope. */
  function said(card, now, data) {
    const [what, a, b, unit] = data.of.split(" "), { layers } = now.masses[data.scope], layer = layers[a], how = data.show;
    const base = () => sum(card.pots[a].map((at) => "left" in card.layers[at] ? layers[at].melt : layers[at].bases[b]));
    const poured = () => layer.stays + card.layers[a].overpour;
    switch (what) {
      case "base": return tight(show[how](base(), card.scales));
      case "oil": return tight(show[how](layer.scents[b][unit], card.scales));
      case "dosed": return tight(show[how](layer.stirred[b][unit], card.scales));
      case "stays": return about(card, layer.stays);
      case "poured": return about(card, poured());
      case "filled": return about(card, now.round * poured());
      case "pieces": return how === "pieces" ? bars(now.pieces, "piece") : now.pieces === 1 ? "the piece" : "each piece";
      case "limit": {
        const text = overLimit(layer, layer.scents[b]);
        return text && how === "and-limit" ? ", " + text : text;
      }
    }
    const { left } = card.layers[card.pots[a][0]], minds = new Set(), there = card.there[a];
    card.layers.forEach((one, at) => {
      if (one.left === left && one.scent) minds.add(overLimit(layers[at], layers[at].scents.at(-1)));
    });
    if (there && there[0] < base()) minds.add(`only ${there[1]} there`);
    return [...minds].filter(Boolean).join(", ");
  }
  return { batch, said };
})();
