/* Narrows the index to the pages that hold every word typed, with the words around them. The data
   are scripts (views/index/data.py): a page opened from a folder can load nothing else. */
"use strict";
const [field, said, list, further, printed] =
  ["narrow", "found", "pages", "further", "terms"].map((id) => document.getElementById(id));

const MOST_WORDS = 8, AT_ONCE = 20, FORGIVEN = 5;
/* Characters quoted before a word and in all; how often a word is looked at. */
const BEFORE = 50, QUOTED = 150, LOOKED = 20;
const LETTERS = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-_", MAP = 11;

/* Small letters without accents, every character in its place. */
const folded = (text) =>
  text.replace(/[^\0-\x7f]/g, (sign) => sign.normalize("NFD")[0]).toLowerCase();
const wordsIn = (text) => folded(text).match(/[\p{L}\p{N}]+/gu) || [];

const made = (kind) => document.createElement(kind);
const scripts = {};
const load = (name) => scripts[name] ||= new Promise((done, failed) => {
  const script = made("script");
  script.src = `index/${name}.js`;
  script.onload = done;
  script.onerror = () => { delete scripts[name]; failed(); };
  document.head.append(script);
});

let parts, dictionary, common, spelt;

function opened(name) {
  const [kinds, pages, shared, standing] = window.bookIndex[name];
  const words = [];
  let word = "", from = 0;
  for (let to = 1; to <= shared.length; to++) {
    const code = to < shared.length ? shared.charCodeAt(to) : 65;
    if (code > 64 && code < 91) {
      word = word.slice(0, shared.charCodeAt(from) - 65) + shared.slice(from + 1, to);
      words.push(word);
      from = to;
    }
  }
  return { words, standing: standing.split(" "), pages: pages.split("\n").map((line) => {
    const [href, title, number, kind, when] = line.split("\t"), own = href.startsWith("designs/");
    return { href, title, number, kind: kinds[kind], when, own, named: wordsIn(title),
      held: own ? href.replace(".html", "") : `${name}-words` };
  }) };
}

const ready = () => load("all").then(async () => {
  const names = window.bookParts.parts.split(" ");
  await Promise.all(names.map(load));
  if (parts) return;
  common = new Set(window.bookParts.common.split(" "));
  spelt = window.bookParts.spelt.split(" ").map((pair) => pair.split(":"));
  const all = names.map(opened);
  dictionary = [...new Set(all.flatMap((part) => part.words))].sort();
  /* Designs first, the newest at the head; then the rest. */
  all.flatMap((part) => part.pages).forEach((page, n) => { page.order = page.own ? -n : n; });
  parts = all;
});

/* The first place in sorted words that is not before a word. */
function placeOf(words, word) {
  let low = 0, high = words.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (words[middle] < word) low = middle + 1; else high = middle;
  }
  return low;
}
const first = (form) => dictionary[placeOf(dictionary, form)] || "";

/* What is one slip away from a word, and begins a word of the index. */
function near(word) {
  const found = new Set();
  const meet = (form, whole) => {
    if (whole ? first(form) === form : first(form).startsWith(form)) found.add(form);
  };
  for (let n = 0; n < word.length; n++) {
    const head = word.slice(0, n), tail = word.slice(n), rest = tail.slice(1);
    /* Any letter in the last place would be the word cut short: there whole words alone. */
    meet(head + rest, !rest);
    if (rest) meet(head + rest[0] + tail[0] + rest.slice(1));
    let place = placeOf(dictionary, head);
    while (place < dictionary.length && dictionary[place].startsWith(head)) {
      const letter = dictionary[place][n];
      if (!letter) { place += 1; continue; }
      meet(head + letter + tail);
      meet(head + letter + rest, !rest);
      place = placeOf(dictionary, head + letter + "\uffff");
    }
  }
  const whole = [...found].filter((form) => first(form) === form);
  return whole.length ? whole : [...found];
}

/* The pages of a part with a word that begins so, as two sets of 32. */
function pagesWith(part, forms) {
  const sets = [0, 0];
  const put = (n) => { sets[n >> 5] |= 1 << (n & 31); };
  for (const form of forms) {
    for (let n = placeOf(part.words, form); part.words[n]?.startsWith(form); n++) {
      const code = part.standing[n];
      if (code.length < MAP) for (const letter of code) put(LETTERS.indexOf(letter));
      else for (let six = 0; six < MAP; six++) {
        const bits = LETTERS.indexOf(code[six]);
        for (let k = 0; k < 6; k++) if (bits >> k & 1) put(six * 6 + k);
      }
    }
  }
  return sets;
}

/* A form in each of its spellings. */
function spellings(form) {
  const found = [form];
  for (const [a, b] of spelt) for (const [one, other] of [[a, b], [b, a]]) {
    if (form.startsWith(one)) found.push(other + form.slice(one.length));
    else if (one.startsWith(form) && !other.startsWith(form)) found.push(other);
  }
  return found;
}

/* Pages that hold every word, the best first. */
function together(words) {
  const found = [], marks = words.map(({ forms }) => forms.flatMap(spellings));
  for (const part of parts) {
    const sets = [-1, -1];
    for (const { forms } of words) pagesWith(part, forms).forEach((set, k) => { sets[k] &= set; });
    if (sets[0] || sets[1]) part.pages.forEach((page, n) => {
      if (!(sets[n >> 5] >> (n & 31) & 1)) return;
      const inTitle = (forms) =>
        page.named.some((name) => forms.some((form) => name.startsWith(form)));
      found.push({ page, hits: marks.filter(inTitle).length });
    });
  }
  found.sort((a, b) => b.hits - a.hits || a.page.order - b.page.order);
  return { words, marks, found: found.map(({ page }) => page) };
}

function answer(typed) {
  /* Words of one letter are on no page. */
  const words = typed.filter((word, n, all) => !common.has(word) && (word[1] || !all[1]))
    .slice(0, MOST_WORDS).map((word) => {
    const known = first(word).startsWith(word);
    return { word, slip: !known, forms: known || word.length < FORGIVEN ? [word] : near(word) };
  });
  if (!words.length) return { words, found: [] };
  const result = together(words);
  if (result.found.length) return result;
  /* On no page together: one may be a slip. */
  return together(words.map((entry) => entry.slip || entry.word.length < FORGIVEN ? entry
    : { ...entry, slip: true, forms: [entry.word, ...near(entry.word)] }));
}

function sentence(typed, { words, found }) {
  if (!words.length) return `“${typed.join(" ")}” is on nearly every page. Type another word.`;
  const named = words.map(({ word, forms, slip }) => {
    const others = slip ? forms.filter((form) => form !== word).slice(0, 3).map(first) : [];
    return others.length ? `${word} (or ${others.join(", ")})` : word;
  });
  const last = named.pop();
  const told = named.length ? `${named.join(", ")} and ${last}` : last;
  return `${found.length || "No"} ${found.length > 1 ? "pages" : "page"} with ${told}.`;
}

/* The places of a text that hold the most of the words, up to three. */
function chosen(texts, marks) {
  const places = texts.map(([anchor, text]) => {
    const plain = folded(text), hits = [];
    marks.forEach((forms, word) => {
      const sign = new RegExp(`(^|[^\\p{L}\\p{N}])((?:${forms.join("|")})[\\p{L}\\p{N}]*)`, "gu");
      for (let hit, n = 0; n < LOOKED && (hit = sign.exec(plain)); n++) {
        hits.push({ word, start: sign.lastIndex - hit[2].length, end: sign.lastIndex });
      }
    });
    return { anchor, text, hits: hits.sort((a, b) => a.start - b.start) };
  });
  const left = new Set(marks.keys()), found = [];
  while (left.size && found.length < 3) {
    let best = { worth: 0 };
    for (const { anchor, text, hits } of places) hits.forEach(({ start, word }, n) => {
      if (!left.has(word)) return;
      const inside = hits.slice(n).filter((hit) => hit.end <= start + QUOTED - BEFORE);
      const worth = [...left].filter((one) => inside.some((hit) => hit.word === one)).length;
      if (worth > best.worth) best = { worth, anchor, text, hits: inside };
    });
    if (!best.worth) break;
    best.hits.forEach((hit) => left.delete(hit.word));
    found.push(best);
  }
  return found;
}

function quote(item, page, texts, marks) {
  const places = chosen(texts, marks);
  const line = made("p");
  let cut = "";
  for (const { text, hits } of places.length ? places : [{ text: texts[0]?.[1] || "", hits: [] }]) {
    const start = hits.length ? hits[0].start : 0;
    let done = start > BEFORE ? Math.min(text.indexOf(" ", start - BEFORE) + 1, start) : 0;
    const end = done + QUOTED < text.length ? text.lastIndexOf(" ", done + QUOTED) : text.length;
    line.append(line.firstChild ? " … " : done ? "… " : "");
    cut = end < text.length ? " …" : "";
    for (const hit of hits) if (hit.start >= done) {
      const bold = made("b");
      bold.append(text.slice(hit.start, hit.end));
      line.append(text.slice(done, hit.start), bold);
      done = hit.end;
    }
    line.append(text.slice(done, Math.max(done, end)));
  }
  line.append(cut);
  item.firstChild.append(line);
  const anchor = places[0]?.anchor;
  if (anchor && page.own) item.querySelector("a").href = `${page.href}#${anchor}`;
}

function entry(page) {
  const [item, text, name, link, end] = ["li", "div", "p", "a", "p"].map(made);
  name.className = "name";
  end.className = "end";
  link.href = page.href;
  link.append(page.title);
  end.append([page.kind, page.when, `p. ${page.number}`].filter(Boolean).join(", "));
  name.append(link);
  text.append(name);
  item.append(text, end);
  return item;
}

let turn = 0;
const links = () => [...list.querySelectorAll("a")];

async function show(result, from) {
  const mine = turn, more = from + AT_ONCE;
  const pages = result.found.slice(from, more), items = pages.map(entry);
  list.append(...items);
  list.hidden = !items.length;
  further.hidden = result.found.length <= more;
  further.firstChild.onclick = () => { show(result, more); links()[more].focus(); };
  const loaded = pages.map((page) => load(page.held).catch(() => {}));
  for (let n = 0; n < pages.length; n++) {
    await loaded[n];
    await new Promise((done) => setTimeout(done));
    if (mine !== turn) return;
    quote(items[n], pages[n], window.bookWords?.[pages[n].held]?.[pages[n].href] || [], result.marks);
  }
}

function narrow() {
  const typed = wordsIn(field.value);
  turn += 1;
  list.replaceChildren();
  list.hidden = further.hidden = true;
  printed.hidden = typed.length > 0;
  said.textContent = "";
  if (!typed.length) return;
  if (!parts) {
    said.textContent = "Opening the index …";
    ready().then(narrow, () => {
      said.textContent = "The words of the index are missing from this folder.";
      printed.hidden = false;
    });
    return;
  }
  const result = answer(typed);
  said.textContent = sentence(typed, result);
  show(result, 0);
}

let later;
function remember() {
  clearTimeout(later);
  later = setTimeout(() => {
    const words = encodeURIComponent(field.value.trim()).replace(/%20/g, "+");
    history.replaceState(null, "", location.pathname + (words && `?words=${words}`));
  }, 150);
}

field.addEventListener("focus", () => ready().catch(() => {}), { once: true });
field.addEventListener("input", () => { narrow(); remember(); });
field.addEventListener("keydown", (event) => {
  if (event.key === "Escape") { field.value = ""; narrow(); remember(); }
  if (event.key !== "ArrowDown" && event.key !== "Enter") return;
  event.preventDefault();
  links()[0]?.focus();
});
list.addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key], all = links();
  if (event.key === "Escape") field.focus();
  if (!step) return;
  event.preventDefault();
  (all[all.indexOf(document.activeElement) + step] || (step < 0 ? field : all.at(-1))).focus();
});

field.closest(".scripted").hidden = false;
field.value = new URLSearchParams(location.search).get("words") || field.value;
if (field.value) narrow();
