/* A bench page: what is done at the bench is tapped, kept in the browser, and handed over as pours of their
   write-ups. It has a turn for each pour that can be begun on it, of one of its rounds. Every tap is an entry
   of its own in the browser's storage, and is never changed again: what is undone or put right is one more. So
   neither a reload nor a second tab can lose one. */
(() => {
  "use strict";
  const page = JSON.parse(document.getElementById("facts").textContent);
  const NBSP = "\u00a0", MINUTE = 60000, DAY = 86400000;

  // --- Newton's law of cooling, as journal/figures/heat has it: minutes, degrees C --------------------

  const dot = (a, b) => a.reduce((sum, value, at) => sum + value * b[at], 0);

  /* Orthonormal columns that span the given ones, one after the other, and how long what was new in each was.
     Twice over, or rounding leaves them leaning (Gram and Schmidt). */
  function basisOf(columns) {
    const basis = [], lengths = [];
    for (const column of columns) {
      const left = [...column];
      for (let turn = 0; turn < 2; turn += 1) {
        for (const one of basis) {
          const along = dot(one, left);
          for (let at = 0; at < left.length; at += 1) left[at] -= along * one[at];
        }
      }
      const length = Math.sqrt(dot(left, left));
      lengths.push(length);
      basis.push(left.map((value) => value / length));
    }
    return { basis, lengths };
  }

  /* Least squares of Newton's law through readings above a room: the best of a scan over the rate, then
     Gauss-Newton steps, halved until the squares fall. Null where they do not cool towards the room. */
  function fitCooling(time, value, room) {
    const count = time.length, span = Math.max(...time);
    if (count < 2 || span <= 0) return null;
    if (count === 2) {
      const share = value[0] === room ? 0 : (value[1] - room) / (value[0] - room);
      if (!(share > 0 && share < 1)) return null;
    }
    const above = value.map((one) => one - room);
    let best = null, place = 0;
    for (let at = 0; at <= 60; at += 1) {
      const rate = 10 ** (-4 + at / 10) / span, decay = time.map((t) => Math.exp(-rate * t));
      const power = dot(decay, decay), excess = dot(decay, above) / power;
      const error = dot(above, above) - excess * excess * power;
      if (best === null || error < best.error) { best = { error, rate, excess }; place = at; }
    }
    if (((place === 0 || place === 60) && count > 2) || best.excess === 0) return null;
    const sign = Math.sign(best.excess);
    const evaluate = (log, rate) => {
      const tail = time.map((t) => sign * Math.exp(log - rate * t));
      const residual = above.map((one, at) => one - tail[at]);
      return { tail, residual, error: dot(residual, residual), log, rate };
    };
    let now = evaluate(Math.log(Math.abs(best.excess)), best.rate);
    const columnsOf = (one) => [one.tail, one.tail.map((tail, at) => -time[at] * tail)];
    for (let step = 0; step < 60; step += 1) {
      const [first, second] = columnsOf(now), { basis: [q1, q2], lengths } = basisOf([first, second]);
      let byRate = dot(q2, now.residual) / lengths[1];
      let byLog = (dot(q1, now.residual) - dot(q1, second) * byRate) / lengths[0], next = null;
      for (let half = 0; half < 40; half += 1) {
        next = evaluate(now.log + byLog, now.rate + byRate);
        if (next.error <= now.error && next.rate > 0) break;
        next = null; byLog /= 2; byRate /= 2;
      }
      if (next === null) break;
      const small = Math.abs(byLog) <= 1e-12 * (1 + Math.abs(now.log)) && Math.abs(byRate) <= 1e-12 * (1 + now.rate);
      now = next;
      if (small) break;
    }
    if (!(now.rate * span > 1e-4 && now.rate * span < 1e2)) return null;
    const columns = columnsOf(now), freedom = count - 2;
    const own = freedom > 0 && !bends(time, columns, now.residual);
    const reach = page.t_95[Math.min(freedom, page.t_95.length) - 1];
    return {
      room, rate: now.rate, start: room + sign * Math.exp(now.log), last: span,
      spread: own ? spreadOf(columns, dot(now.residual, now.residual) / freedom, reach) : null,
      // How far it may be off by the thermometer alone.
      byThermometer: spreadOf(columns, page.reading_k ** 2, 1),
    };
  }

  /* Covariances of ln(excess) and rate for a variance of the readings; so many of their roots reach 95 %. */
  function spreadOf(columns, variance, reach) {
    const { basis: [q1], lengths: [r11, r22] } = basisOf(columns);
    if (Math.min(r11, r22) < 1e-13 * Math.max(r11, r22)) return null;
    // The inverse of the triangle [r11 r12; 0 r22] times its transpose.
    const r12 = dot(q1, columns[1]), a = 1 / r11, b = -r12 / (r11 * r22), c = 1 / r22;
    return { reach, excess: variance * (a * a + b * b), both: variance * b * c, rate: variance * c * c };
  }

  /* Whether terms in t^2, t^3 (and t^4) in the exponent fit better than chance would, as a pot does that sets. */
  function bends(time, columns, residual) {
    const count = time.length, error = dot(residual, residual);
    const terms = count < 9 ? 2 : 3, freedom = count - 2 - terms;
    if (count < page.bend_from || freedom < 1 || Math.sqrt(error / count) < 0.4) return false;
    const span = Math.max(...time);
    const added = [2, 3, 4].slice(0, terms).map((power) => columns[0].map((tail, at) => tail * (time[at] / span) ** power));
    const { basis } = basisOf([...columns, ...added]);
    const gain = basis.slice(2).reduce((sum, one) => sum + dot(one, residual) ** 2, 0);
    const ratio = gain / terms / (Math.max(error - gain, 1e-18 * error) / freedom);
    return ratio > page.bend[Math.min(count - page.bend_from, page.bend.length - 1)];
  }

  /* When a curve has a temperature: minutes from its first reading, with their 95 % interval (Fieller's). */
  function crossing(curve, level) {
    const excess = curve.start - curve.room, above = level - curve.room;
    if (above === 0 || above > 0 !== excess > 0) return null;
    const gap = Math.log(excess / above), { rate, spread } = curve, at = gap / rate;
    if (spread === null) return { at, interval: null };
    const square = spread.reach ** 2, second = rate ** 2 - square * spread.rate;
    if (second <= 0) return { at, interval: null };
    const first = gap * rate - square * spread.both, constant = gap ** 2 - square * spread.excess;
    const root = Math.sqrt(Math.max(first ** 2 - second * constant, 0));
    return { at, interval: [(first - root) / second, (first + root) / second] };
  }

  /* When a pot enters a window and leaves it, in minutes from the first reading; null where it never does. */
  function windowTimes(curve, low, high) {
    const enters = crossing(curve, high), leaves = low === null ? null : crossing(curve, low);
    const none = { enters: null, leaves: null, entersIn: null, leavesIn: null };
    if (leaves !== null && leaves.at < 0) return none;
    const fromStart = (one) => one && one.interval && one.interval.map((end) => Math.max(end, 0));
    return {
      enters: enters && Math.max(enters.at, 0), leaves: leaves && leaves.at,
      entersIn: fromStart(enters) || null, leavesIn: fromStart(leaves) || null,
    };
  }

  /* The readings since the pot was last on the heat. One that was still getting warmer began to cool at its
     warmest. */
  function lastRun(rows) {
    let start = 0;
    rows.forEach((row, at) => { if (at && (row.mark === "melted" || page.new_run.includes(row.mark))) start = at; });
    if (rows[start] && rows[start].mark !== "drawn") {
      while (start + 1 < rows.length && rows[start + 1].c > rows[start].c) start += 1;
    }
    return rows.slice(start);
  }

  /* Minutes in which a pot cools from one temperature to another; null for never. */
  function minutesTo(to, from, room, rate) {
    if (to >= from) return 0;
    return to <= room ? null : Math.log((from - room) / (to - room)) / rate;
  }

  /* Two answers in one, each by how sure it is: [when, from, to] in ms, or null for no answer; without an
     interval the first is the answer. Inverse variances (textbook). */
  function joined(own, studio) {
    if (own === null || studio === null) return own || studio;
    if (studio[1] === null) return own;
    if (own[1] === null) return studio;
    const weights = [own, studio].map(([, from, to]) => 1 / Math.max(to - from, 1000) ** 2);
    const sum = weights[0] + weights[1], at = (weights[0] * own[0] + weights[1] * studio[0]) / sum;
    const half = 0.5 / Math.sqrt(sum);
    return [at, at - half, at + half];
  }

  /* When a pot enters a window and leaves it, by the clock: before its second reading by the rate of the
     studio's pots, which the second and third then correct; four readings speak for themselves. Each is
     [when, from, to] in ms, null for never; null as a whole where nothing tells. */
  function forecast(pot, window, rows, room) {
    const run = lastRun(rows), last = run[run.length - 1];
    if (last === undefined) return null;
    // A thermometer read to a degree tells no rate within two minutes.
    const curve = last.at - run[0].at < 2 * MINUTE ? null : fitCooling(run.map((row) => (row.at - run[0].at) / MINUTE), run.map((row) => row.c), room);
    const studio = (level) => {
      const minutes = pot.rate_per_min === null || level === null ? null : minutesTo(level, last.c, room, pot.rate_per_min);
      if (minutes === null) return null;
      const factor = pot.reach === null ? null : Math.exp(pot.reach), at = (after) => last.at + after * MINUTE;
      return [at(minutes), factor && at(minutes / factor), factor && at(minutes * factor)];
    };
    if (curve === null) return pot.rate_per_min === null ? null : { enters: studio(window.high_c), leaves: studio(window.low_c), own: false };
    const few = run.length < 4, spread = few ? curve.byThermometer : curve.spread;
    const when = (level) => {
      const found = level === null ? null : crossing({ ...curve, spread }, level);
      if (found === null) return null;
      const at = (minutes) => run[0].at + minutes * MINUTE;
      const own = found.interval ? [at(found.at), at(found.interval[0]), at(found.interval[1])] : [at(found.at), null, null];
      return few ? joined(own, studio(level)) : own;
    };
    return { enters: when(window.high_c), leaves: when(window.low_c), own: true };
  }

  // --- Words ------------------------------------------------------------------------------------------

  const two = (number) => String(number).padStart(2, "0");
  const clock = (ms) => { const at = new Date(ms); return `${at.getHours()}:${two(at.getMinutes())}`; };
  const dayOf = (ms) => { const at = new Date(ms); return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`; };
  const midnight = (ms) => new Date(ms).setHours(0, 0, 0, 0);
  const MONTHS = "January February March April May June July August September October November December".split(" ");
  const dayText = (iso) => { const [, month, day] = iso.split("-"); return `${Number(day)}${NBSP}${MONTHS[month - 1]}`; };
  const daysSince = (iso, ms) => { const [y, m, d] = iso.split("-").map(Number); return Math.round((midnight(ms) - new Date(y, m - 1, d).getTime()) / DAY); };
  const degrees = (text) => `${text}${NBSP}°${page.degree}`;
  const toC = (number) => page.degree === "F" ? (number - 32) / 1.8 : number;
  const number = (text) => { const found = /-?\d+(?:\.\d+)?/.exec(text || ""); return found ? Number(found[0]) : null; };
  const minutesText = (ms) => ms < MINUTE ? "less than a minute" : ms < 90 * MINUTE ? `${Math.round(ms / MINUTE)}${NBSP}min` : `${Math.floor(ms / MINUTE / 60)}${NBSP}h ${Math.round(ms / MINUTE) % 60}${NBSP}min`;
  const inWords = (words, last) => words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} ${last} ${words[words.length - 1]}`;
  const counted = (count, word) => `${count}${NBSP}${word}${count === 1 ? "" : "s"}`;

  /* What is said of a window of a pot: [the answer, the rest]. */
  function whenTo(pot, window, rows, room, now) {
    const what = window.kind === "pour" ? `Pour the ${window.of}` : `Stir in ${window.of}`;
    const last = rows[rows.length - 1];
    if (last === undefined) return [`${what} ${window.shown}.`, ""];
    if (window.low_c !== null && last.c < window.low_c) return [`Too cold: reheat to ${window.again}.`, `${what} ${window.shown}.`];
    const times = forecast(pot, window, rows, room);
    if (times === null) return [last.c <= window.high_c ? `${what} now.` : `${what} ${window.shown}.`, last.c <= window.high_c ? "" : "Two readings tell when."];
    const [enters, from, to] = times.enters || [null, null, null], leaves = times.leaves && times.leaves[0];
    if (leaves !== null && now >= leaves) return ["Read it again.", `By now it should be too cold. Reheat to ${window.again}.`];
    if (last.c <= window.high_c || (enters !== null && now >= enters)) {
      return [`${what} now${leaves === null ? "" : `, until about ${clock(leaves)}`}.`, leaves === null ? "" : `${minutesText(leaves - now)} left.`];
    }
    if (enters === null) return [`${what} ${window.shown}.`, "The room keeps it too warm for that."];
    const range = from === null ? null : [from, to].map((end) => Math.max(0, Math.round((end - now) / MINUTE)));
    const may = range !== null && range[0] < range[1] ? `${range[0]} to ${range[1]}${NBSP}min${times.own ? "" : ", as your pots cool"}. ` : times.own ? "" : "As your pots cool. ";
    const then = leaves === null ? "" : `Then you have ${minutesText(leaves - enters)}.`;
    return [`${what} in ${minutesText(enters - now)}, at about ${clock(enters)}.`, `${may}${then}`.trim()];
  }

  // --- Taps -------------------------------------------------------------------------------------------

  const LONGEST = 200, ID = /^[a-z0-9]{16,40}$/;
  const isText = (value) => typeof value === "string" && value.length <= LONGEST && !/[\u0000-\u001f\u007f]/.test(value);
  const isMs = (value) => Number.isFinite(value) && value > 0 && value < 8e15;
  const isId = (value) => typeof value === "string" && ID.test(value);
  const marks = ["melted", "scented", "tinted", "reheated", "poured", "drawn"];
  // What goes for all that is poured at a time.
  const SHARED = ["room", "humidity", "by"];
  const inOrder = (taps) => [...taps].sort((a, b) => a.n - b.n || a.at - b.at || (a.id < b.id ? -1 : 1));

  /* The readings of a pot as rows, those of a mark at the mark's time; a mark without one has no temperature. */
  function rowsOf(state, pot) {
    const of = new Map(), rows = [];
    // What is typed for a mark, or once more for a reading, stands in its place.
    for (const event of state.events) if (event.do === "read" && event.of) of.set(event.of, event);
    for (const event of state.events) {
      if (event.pot !== pot || (event.do === "read" && event.of)) continue;
      const read = of.get(event.id) || (event.do === "read" ? event : null);
      rows.push({ id: event.id, at: event.at, mark: event.mark || "", step: event.step ?? -1, reads: read ? read.reads : "", c: read ? toC(Number(read.reads)) : null });
    }
    return rows;
  }

  /* A time as a write-up has it. Of the next morning with am, by which it is known for that. */
  function written(ms, first) {
    if (midnight(ms) <= midnight(first)) return clock(ms);
    const at = new Date(ms), hour = at.getHours();
    return `${hour % 12 || 12}:${two(at.getMinutes())} ${hour < 12 ? "am" : "pm"}`;
  }

  const temperature = (reads) => `${reads} ${page.degree}`;
  const withoutEmpty = (pairs) => Object.fromEntries(pairs.filter(([, value]) => value !== "" && value !== undefined));
  const filled = (object) => Object.keys(object).length ? object : undefined;

  // --- What is kept -----------------------------------------------------------------------------------

  const randomId = () => {
    const letters = "abcdefghijklmnopqrstuvwxyz0123456789", bytes = new Uint8Array(20);
    // Where nothing better is to be had: no secret hangs on it, only that no other is alike.
    if (globalThis.crypto && crypto.getRandomValues) crypto.getRandomValues(bytes);
    else bytes.forEach((_, at) => { bytes[at] = Math.random() * 256; });
    return Array.from(bytes, (byte) => letters[byte % 36]).join("");
  };

  /* The browser's storage, or null where it keeps nothing; "full" where it takes no more. */
  function findStorage() {
    try {
      const test = `bench ${page.notebook} test`;
      localStorage.setItem(test, "1");
      localStorage.removeItem(test);
      return localStorage;
    } catch (error) {
      try { return error.name === "QuotaExceededError" && localStorage.length ? localStorage : null; } catch { return null; }
    }
  }

  const storage = findStorage();
  const unsaved = new Map(); // key -> text, what storage did not take
  let strangers = 0, shared = false;

  function readStorage() {
    strangers = 0;
    for (const turn of turns) turn.empty();
    if (storage === null) return;
    for (let at = 0; at < storage.length; at += 1) {
      const key = storage.key(at), turn = turns.find((one) => key.startsWith(one.prefix));
      if (turn && !turn.takeIn(key, storage.getItem(key))) strangers += 1;
    }
    for (const turn of turns) strangers += turn.dropHeadless();
  }

  function save() {
    for (const [key, text] of unsaved) {
      if (storage === null) return;
      try { storage.setItem(key, text); unsaved.delete(key); } catch { return; }
    }
  }

  // --- The studio's computer --------------------------------------------------------------------------

  // A page from a file, or from a host that takes nothing, is told so once; one that only does not answer is
  // asked again at the next tap.
  let server = /^https?:$/.test(location.protocol) ? "unknown" : "none", serverSays = "";

  async function post(path, body) {
    const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), credentials: "same-origin" });
    let said = null;
    try { ({ said } = await answer.json()); } catch { said = null; }
    if (typeof said !== "string") { if ([404, 405, 501].includes(answer.status)) server = "none"; throw new Error("no answer of ours"); }
    return { taken: answer.ok, said: said.slice(0, 400) };
  }

  let awake = null;
  function keepAwake() {
    if (!navigator.wakeLock || document.visibilityState !== "visible") return;
    navigator.wakeLock.request("screen").then((lock) => { awake = lock; }).catch(() => {});
  }

  // --- The page ---------------------------------------------------------------------------------------

  const live = document.getElementById("live");
  const ticking = []; // functions that say the time anew
  // What can be begun, and the part of the page on which it begins.
  const KINDS = { pour: "pots", looks: "looks", judged: "bars" };
  const several = page.turns.filter((one) => !one.pour).length > 1;
  let tab = "pots", current = null, byCode = false, said = "";

  /* An element. What was typed or read is only ever its text. */
  function el(name, attributes, ...children) {
    const one = document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) {
      if (key === "on") one.addEventListener("click", value);
      else if (value === true) one.setAttribute(key, "");
      else if (value !== false && value !== undefined && value !== "") one.setAttribute(key, value);
    }
    one.append(...children.flat().filter((child) => child !== null && child !== ""));
    return one;
  }
  const button = (text, on, more) => el("button", { type: "button", on, ...more }, text);
  const ticker = (element, say) => {
    const turn = () => {
      const [answer, rest] = say();
      element.replaceChildren(el("b", {}, answer), rest ? ` ${rest}` : "");
    };
    turn();
    ticking.push(turn);
    return element;
  };

  function statusText() {
    if (unsaved.size && storage === null) return ["This browser keeps nothing.", "What you tap is in this page alone: hand it over before you close it.", true];
    if (unsaved.size) return ["This phone’s storage is full.", `The last ${counted(unsaved.size, "tap")} are in this page alone. Hand over now, and do not close it.`, true];
    if (storage === null) return ["This browser keeps nothing.", "Hand over before you close the page.", true];
    const at = { answers: "and by the studio’s computer", silent: "The studio’s computer does not answer; it is asked again at the next tap", refuses: serverSays }[server];
    if (server === "answers") return [`Kept on this phone ${at}.`, "", false];
    return ["Kept on this phone.", at ? (/[.!]$/.test(at) ? at : `${at}.`) : "", server === "refuses"];
  }

  let statusLine = null;
  function showStatus() {
    if (statusLine === null) return;
    const [answer, rest, mind] = statusText();
    statusLine.replaceChildren(el("b", mind ? { class: "mind" } : {}, answer), rest ? ` ${rest}` : "");
    if (shared) statusLine.append(" Open in another tab too: both write the same notes.");
    if (strangers) statusLine.append(` ${counted(strangers, "entry").replace("entrys", "entries")} in this phone’s storage could not be read, and ${strangers === 1 ? "is" : "are"} left out.`);
  }

  const nowLine = (text) => el("p", { class: "said", role: "status" }, text);

  // -- numbers --

  const RUB = "Rub out";

  /* A large number pad. `enter` is called with what was typed, "" for nothing. */
  function pad({ title, unit, enter, skip, time, likely }) {
    let typed = "", asked = "";
    const shown = el("output", { class: "typed", "aria-live": "polite" });
    const doubt = el("p", { class: "doubt", role: "status" });
    const show = () => { shown.textContent = `${typed || "–"}${NBSP}${unit}`; };
    const close = (value) => { dialog.close(); dialog.remove(); enter(value); };
    const press = (key) => {
      doubt.textContent = ""; asked = "";
      if (key === RUB) typed = typed.slice(0, -1);
      else if (typed.length < 6 && !(key === "." && typed.includes(".")) && !(key === ":" && typed.includes(":"))) typed += key;
      show();
    };
    const done = () => {
      const value = typed.replace(/^\./, "0.").replace(/\.$/, "");
      if (time ? !/^([01]?\d|2[0-3]):[0-5]\d$/.test(value) : !/^\d+(\.\d+)?$/.test(value)) { doubt.textContent = time ? "Write it as 10:42." : "Type a number first."; return; }
      if (likely && asked !== value && !(Number(value) >= likely[0] && Number(value) <= likely[1])) {
        asked = value;
        doubt.textContent = `${value}${NBSP}${unit}? If that is right, tap Enter again.`;
        return;
      }
      close(value);
    };
    const keys = [..."123456789", time ? ":" : ".", "0", RUB].map((key) => button(key, () => press(key), key === RUB ? { class: "rub" } : {}));
    const dialog = el("dialog", { class: "pad", "aria-label": title },
      el("h2", {}, title), shown, doubt, el("div", { class: "digits" }, keys),
      el("div", { class: "keys" }, button(skip || "Leave it", () => close("")), button("Enter", done, { class: "chief" })));
    dialog.addEventListener("cancel", (event) => { event.preventDefault(); close(""); });
    dialog.addEventListener("keydown", (event) => {
      if (/^[\d.:]$/.test(event.key) && (event.key !== ":" || time) && (event.key !== "." || !time)) press(event.key);
      else if (event.key === "Backspace") press(RUB);
      else if (event.key === "Enter" && event.target.tagName !== "BUTTON") done();
    });
    show();
    live.append(dialog);
    dialog.showModal();
  }

  const WARM = page.degree === "F" ? [60, 250] : [15, 120];
  const NAMES = { melted: "Melted", scented: "Scented", tinted: "Stirred in", reheated: "Reheated", poured: "Poured", chill: "Into the chill", wait: "From now", done: "Done" };

  // -- questions --

  const WIDTHS = [["0", "0 mm", "lip-0"], ["½", "0.5 mm", "lip-1"], ["1", "1 mm", "lip-2"], ["2", "2 mm", "lip-3"], ["3", "3 mm", "lip-4"]];
  const NUMBERS = { count: ["0", "1", "2", "3", "5"], time: ["1", "2", "3", "5"], mass: [] };

  /* The answers that a measure has as [shown, written, class]. */
  function answersOf(measure) {
    if (measure.kind === "length") return WIDTHS;
    if (measure.kind === "yes-no") return [["Yes", "yes", ""], ["No", "no", ""]];
    if (measure.kind === "rating") return Array.from({ length: measure.of }, (_, at) => [String(at + 1), String(at + 1), ""]);
    return NUMBERS[measure.kind].map((value) => [value, measure.unit ? `${value} ${measure.unit}` : value, ""]);
  }

  const choice = (label, text, now, key, set, drawn) => button(
    drawn ? [el("span", { class: `lip ${drawn}`, "aria-hidden": "true" }), text] : text,
    () => { if (now !== label) set(label); }, { "aria-pressed": String(now === label), "data-key": key, class: "choice" });

  /* A question with its answers side by side; `other` is one that opens something to type into. */
  function question(title, says, key, answers, now, set, typed, other) {
    const known = answers.some(([, value]) => value === now);
    const type = typed && button(now && !known ? now : "Type it", () => pad({ ...typed, title, enter: (value) => { if (value) set(typed.unit ? `${value} ${typed.unit}` : value); else render(); } }),
      { "aria-pressed": String(Boolean(now && !known)), "data-key": `${key} type`, class: "choice type" });
    return el("div", { class: "question", role: "group", "aria-label": title },
      el("p", {}, el("b", {}, title), says && says.toLowerCase() !== title.toLowerCase() ? el("small", {}, ` ${says}`) : ""),
      el("div", { class: "answers" }, answers.map(([text, value, drawn]) => choice(value, text, now, `${key} ${value}`, set, drawn)), type || null), other || null);
  }

  const measureQuestion = (measure, name, now, set) => question(measure.title, measure.says, `${name} ${measure.name}`, answersOf(measure), now, set,
    ["rating", "yes-no"].includes(measure.kind) ? null : { unit: measure.unit });

  /* A line that is typed into. */
  function line(title, key, now, set) {
    const input = el("input", { type: "text", maxlength: LONGEST, "data-key": key, "aria-label": title, autocomplete: "off" });
    input.value = now;
    input.addEventListener("change", () => set(input.value.trim()));
    return input;
  }

  const asTitle = (key) => key[0].toUpperCase() + key.slice(1);
  const lipClass = (text) => { const mm = number(text); return mm === null ? "" : WIDTHS[mm < 0.25 ? 0 : mm < 0.75 ? 1 : mm < 1.5 ? 2 : mm < 2.5 ? 3 : 4][2]; };
  const scrollToPanel = () => { const panel = live.querySelector(".panel"); if (panel) panel.scrollIntoView({ block: "start" }); };

  // --- One pour that can be begun on the page, and what is kept of it -----------------------------------

  function turnOf(turn, place) {
    const facts = page.rounds[turn.of];
    const potNamed = (name) => facts.pots.find((pot) => pot.name === name);
    const barNames = turn.pour ? turn.cavities.map((one) => one.at) : Array.from({ length: Math.min(facts.mould.bars, facts.bars) }, (_, at) => String(at + 1));
    const measures = new Map([...facts.measures, ...facts.later].map((one) => [one.name, one]));
    const groups = Object.entries(facts.groups), planOf = new Map(turn.cavities.map((one) => [one.at, one]));
    const kept = [...Object.keys(facts.groups), "piece", ...facts.measures.map((one) => one.name), "spoilt", "note"];
    const barKeys = [...kept, "empty"], judgedKeys = kept.slice(groups.length + 1);
    const fieldKeys = ["date", "pour", ...SHARED, ...facts.pots.map((pot) => `melted ${pot.name}`)];
    const isStep = (value) => Number.isInteger(value) && value >= -1 && value < facts.steps.length;
    const isBar = (value) => barNames.includes(value), isOld = (value) => facts.poured.some((one) => one.bar === value);
    // What each kind of tap holds. All local files may share one storage: what is read there is checked.
    const SHAPES = {
      begin: { kind: (value) => Object.hasOwn(KINDS, value) },
      mark: { pot: potNamed, mark: (value) => marks.includes(value), step: isStep },
      read: { pot: potNamed, reads: (value) => isText(value) && /^\d{1,3}(\.\d)?$/.test(value), of: (value) => value === "" || isId(value) },
      step: { step: (value) => isStep(value) && value >= 0 },
      field: { key: (value) => fieldKeys.includes(value), value: isText },
      bar: { bar: isBar, key: (value) => barKeys.includes(value), value: isText },
      like: { bar: isBar },
      blank: { bar: (value) => isBar(value) || isOld(value) },
      look: { bar: isOld, key: (value) => measures.has(value) || value === "note", value: isText },
      time: { of: isId, to: isMs },
      off: { of: isId },
      handed: {},
    };
    // Of several pours on a page each has keys of its own.
    const mine = several || turn.pour ? `${place}: ` : "";
    const prefix = `bench ${page.notebook} ${turn.key} `;
    const sheets = new Map(); // hand-in -> tap id -> tap
    let sheet = null, state = null, chosen = "", sending = false, again = false;

    /* The tap in a value that was read; null for anything else. */
    function checkedTap(value) {
      const shape = value !== null && typeof value === "object" && Object.hasOwn(SHAPES, value.do) ? SHAPES[value.do] : null;
      if (shape === null || !isId(value.id) || !isMs(value.at) || !(Number.isInteger(value.n) && value.n >= 0)) return null;
      const tap = { id: value.id, n: value.n, at: value.at, do: value.do };
      for (const [key, holds] of Object.entries(shape)) {
        if (!holds(value[key])) return null;
        tap[key] = value[key];
      }
      return tap;
    }

    /* What the taps come to. */
    function fold(taps) {
      const off = new Set(taps.filter((tap) => tap.do === "off").map((tap) => tap.of));
      const state = { kind: "pour", begun: 0, events: [], fields: {}, bars: {}, looks: {}, handed: 0, last: null };
      const moved = new Map(), live = inOrder(taps).filter((tap) => !off.has(tap.id) && tap.do !== "off");
      for (const tap of live) {
        if (tap.do === "time") moved.set(tap.of, tap.to);
        if (tap.do === "begin") { state.kind = tap.kind; state.begun = tap.at; }
        if (tap.do === "handed") { state.handed = tap.n; continue; }
        if (tap.do !== "begin") state.last = tap;
        if (tap.do === "field") state.fields[tap.key] = tap.value;
        if (tap.do === "bar") (state.bars[tap.bar] ??= {})[tap.key] = tap.value;
        if (tap.do === "look") (state.looks[tap.bar] ??= { at: tap.at })[tap.key] = tap.value;
        if (tap.do === "blank") { delete state.bars[tap.bar]; delete state.looks[tap.bar]; }
        if (tap.do === "like") {
          for (const bar of barNames) {
            const own = (state.bars[bar] ??= {});
            for (const { name } of facts.measures) own[name] ||= (state.bars[tap.bar] || {})[name] || "";
          }
        }
      }
      for (const tap of live) {
        if (["mark", "read", "step"].includes(tap.do)) state.events.push({ ...tap, at: moved.get(tap.id) ?? tap.at });
      }
      state.events.sort((a, b) => a.at - b.at || a.n - b.n);
      state.changes = Math.max(0, ...taps.filter((tap) => tap.do !== "handed").map((tap) => tap.n));
      return state;
    }

    /* What a bar has under a key: as it was tapped, else as all bars of the pour have it, or as planned. */
    function valueOf(state, bar, key) {
      const own = (state.bars[bar] || {})[key], plan = planOf.get(bar);
      return own || turn.filled[key] || (key === turn.planned && plan && plan.variant) || "";
    }

    /* The bars that are handed in: those that were tapped; of a pour that counts them all, once it is poured. */
    function barsOf(state) {
      const pours = facts.steps.map((step, at) => [step.tap, at]).filter(([tap]) => tap === "poured");
      const last = pours.length ? pours[pours.length - 1][1] : -1;
      const all = turn.counted && (state.events.some((event) => event.mark === "poured" && event.step === last) || Object.keys(state.bars).length > 0);
      return barNames.filter((bar) => {
        const own = state.bars[bar] || {};
        if (own.empty) return false;
        if (turn.pour) return judgedKeys.some((key) => own[key]);
        return Object.values(own).some(Boolean) || (all && groups.every(([key]) => valueOf(state, bar, key)));
      });
    }

    /* What was done without a reading: the write-up has no other place for it than a note. */
    function unread(state) {
      const said = [];
      for (const pot of facts.pots) {
        for (const row of rowsOf(state, pot.name)) if (row.c === null) said.push(`${pot.name} ${row.mark} ${written(row.at, state.begun)}`);
      }
      return said;
    }

    const dateOf = (state) => state.fields.date || dayOf(state.begun);

    /* The code of the batch, once the pour is named: date, letter and the signs of the design. */
    function batchOf(state) {
      const label = state.fields.pour;
      return label ? `${dateOf(state).replaceAll("-", "").slice(2)}-${label}-${facts.signs}` : "";
    }

    /* What is judged of a pour of the write-up: its bars by their names there, and nothing else of it. */
    function judgedOf(state) {
      const bars = barsOf(state).map((bar) => withoutEmpty([["bar", bar], ...judgedKeys.map((key) => [key, state.bars[bar][key]])]));
      return bars.length ? { pour: turn.pour, date: turn.poured_on, bars } : null;
    }

    function pourOf(state) {
      const readings = {}, poured = {};
      for (const pot of facts.pots) {
        const rows = rowsOf(state, pot.name).filter((row) => row.c !== null);
        if (rows.length) readings[pot.name] = rows.map((row) => [written(row.at, state.begun), temperature(row.reads), ...(row.mark ? [row.mark] : [])]);
        for (const row of rows) {
          if (row.mark === "poured" && row.step >= 0) for (const layer of facts.steps[row.step].layers) poured[layer] = temperature(row.reads);
        }
      }
      const bars = barsOf(state).map((bar) => {
        const [first, rest] = [kept.slice(0, groups.length), kept.slice(groups.length)];
        const pairs = (keys) => keys.map((key) => [key, valueOf(state, bar, key)]);
        return withoutEmpty([["bar", bar], ...pairs(first), ["at", bar], ...pairs(rest)]);
      });
      const melted = withoutEmpty(facts.pots.map((pot) => [pot.name, state.fields[`melted ${pot.name}`]]));
      const chills = state.events.filter((event) => event.do === "step" && facts.steps[event.step].tap === "chill").map((event) => written(event.at, state.begun));
      const without = unread(state);
      const notes = [chills.length ? `Into the chill ${chills.join(", ")}.` : "", without.length ? `No temperature noted: ${without.join(", ")}.` : ""];
      return withoutEmpty([
        ["pour", state.fields.pour], ["date", dateOf(state)], ["batch", batchOf(state)], ["by", state.fields.by],
        ["room", state.fields.room], ["humidity", state.fields.humidity],
        ["melted", filled(melted)], ["readings", filled(readings)], ["poured", filled(poured)],
        ["bars", bars.length ? bars : undefined], ["private", notes.filter(Boolean).join(" ")],
      ]);
    }

    /* The rows of bars that were looked at again; their day counts from the pour. */
    function looksOf(state) {
      return Object.entries(state.looks).map(([bar, values]) => {
        const day = daysSince(facts.poured.find((one) => one.bar === bar).poured_on, values.at);
        const row = withoutEmpty([["bar", bar], ["day", String(day)], ...facts.later.map(({ name }) => [name, values[name]]), ["note", values.note]]);
        return Object.keys(row).length > 2 ? row : null;
      }).filter(Boolean);
    }

    const handIn = () => ({
      format: "soap-design-journal/hand-in/1", notebook: page.notebook, design: facts.design, hand_in: sheet,
      pour: state.kind === "pour" ? pourOf(state) : state.kind === "judged" ? judgedOf(state) : null, later: state.kind === "looks" ? looksOf(state) : [],
    });

    // -- kept --

    function takeIn(key, text) {
      const [name, id, ...rest] = key.slice(prefix.length).split(" ");
      if (rest.length || !ID.test(name) || !id) return false;
      let tap = null;
      try { tap = checkedTap(JSON.parse(text)); } catch { tap = null; }
      if (tap === null || tap.id !== id) return false;
      if (!sheets.has(name)) sheets.set(name, new Map());
      sheets.get(name).set(id, tap);
      return true;
    }

    /* A sheet whose beginning is gone cannot be told of what day it is. */
    function dropHeadless() {
      let dropped = 0;
      for (const [name, taps] of sheets) if (![...taps.values()].some((tap) => tap.do === "begin")) { dropped += taps.size; sheets.delete(name); }
      return dropped;
    }

    function add(what) {
      const taps = sheets.get(sheet), n = 1 + Math.max(0, ...[...taps.values()].map((tap) => tap.n));
      const tap = { id: randomId(), n, at: Date.now(), ...what };
      taps.set(tap.id, tap);
      unsaved.set(`${prefix}${sheet} ${tap.id}`, JSON.stringify(tap));
      save();
      state = fold([...taps.values()]);
      current = self;
      if (what.do !== "handed") tell();
      return tap.id;
    }

    /* Folded sheets, the latest first: [name, state]. */
    const known = () => [...sheets].map(([name, taps]) => [name, fold([...taps.values()])]).sort(([, a], [, b]) => b.begun - a.begun);

    function begin(kind) {
      const beside = opened().find((one) => one.state.kind === "pour");
      sheet = randomId();
      sheets.set(sheet, new Map());
      add({ do: "begin", kind });
      if (kind === "pour") {
        for (const key of SHARED) if (beside && beside.state.fields[key]) add({ do: "field", key, value: beside.state.fields[key] });
        if (page.lettered) add({ do: "field", key: "pour", value: freeLabel() });
      }
      chosen = "";
      keepAwake();
      if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    }

    function open(name) { sheet = name; state = fold([...sheets.get(name).values()]); chosen = ""; current = self; keepAwake(); tell(); }
    function leave() { sheet = null; state = null; }

    function forget() {
      for (const id of sheets.get(sheet).keys()) {
        unsaved.delete(`${prefix}${sheet} ${id}`);
        if (storage !== null) storage.removeItem(`${prefix}${sheet} ${id}`);
      }
      sheets.delete(sheet);
      leave();
    }

    /* The first letter behind the pours of the design that neither the write-up nor this phone has, nor `own`. */
    function freeLabel(own) {
      const here = turns.filter((one) => one.facts.design === facts.design).flatMap((one) => one.known().filter(([name]) => name !== sheet).map(([, one]) => one.fields.pour)).filter(Boolean);
      const used = new Set([...facts.labels, ...here, own]);
      for (let at = facts.labels.length; ; at += 1) {
        const label = String.fromCharCode(65 + at % 26) + (Math.floor(at / 26) || "");
        if (!used.has(label)) return label;
      }
    }

    async function tell() {
      if (server === "none" || sheet === null) return;
      if (sending) { again = true; return; }
      sending = true;
      try {
        const { taken, said } = await post("/taps", handIn());
        server = taken ? "answers" : "refuses";
        serverSays = said;
      } catch { if (server !== "none") server = "silent"; }
      sending = false;
      showStatus();
      if (again) { again = false; tell(); }
    }

    function act(what) { said = ""; add(what); render(); }

    // -- pots and steps --

    function askReading(pot, of, what) {
      pad({
        title: what ? `${what}: it reads` : `${pot} reads`, unit: `°${page.degree}`, skip: of ? "No reading" : "Leave it", likely: WARM,
        enter: (value) => { if (value) act({ do: "read", pot, reads: /^\d+(\.\d)?/.exec(value)[0], of }); else render(); },
      });
    }

    function tapMark(pot, mark, step) {
      const before = state.events.filter((event) => event.do === "mark" && event.pot === pot && event.mark === mark);
      // A finger that trembles is no second pour.
      if (before.some((event) => Date.now() - event.at < 3000)) return;
      const id = add({ do: "mark", pot, mark, step });
      said = "";
      render();
      askReading(pot, id, `${pot} ${mark} ${clock(Date.now())}`);
    }

    const eventOfStep = (at) => [...state.events].reverse().find((event) => event.step === at && event.do !== "read");
    const roomC = () => { const typed = number(state.fields.room); return typed === null ? facts.room_c : toC(typed); };

    function tapStep(at) {
      const step = facts.steps[at];
      if (step.pot && step.tap !== "done") tapMark(step.pot, step.tap, at);
      else act({ do: "step", step: at });
    }

    function potPanel(pot) {
      const rows = rowsOf(state, pot.name), read = rows.filter((row) => row.c !== null), last = read[read.length - 1];
      const next = facts.steps.findIndex((step, at) => step.pot === pot.name && step.tap !== "done" && !eventOfStep(at));
      const count = (mark) => rows.filter((row) => row.mark === mark).length;
      const seen = { scent: 0, pour: 0 };
      const open = rows.length ? pot.windows.filter((window) => (seen[window.kind] += 1) > count(window.kind === "pour" ? "poured" : "scented")) : [];
      const done = rows.length && next < 0 && !open.length;
      const of = [pot.layers.join() === pot.name ? "" : pot.layers.join(" and "), mine && title].filter(Boolean).join(", ");
      // Of several pours those pots stand in the way that are poured.
      if (done && mine) return el("p", { class: "past" }, `${pot.name} (${of}): poured at ${clock(rows[rows.length - 1].at)}.`);
      return el("section", { class: "pot", "aria-label": mine ? `${pot.name}, ${title}` : pot.name },
        el("h2", {}, pot.name, of ? el("small", {}, ` ${of}`) : ""),
        last ? el("p", { class: "reads" }, el("b", {}, degrees(last.reads)), ` at ${clock(last.at)}`) : el("p", { class: "reads" }, rows.length ? "No reading yet." : "Not melted yet."),
        done ? el("p", { class: "when" }, `Poured at ${clock(rows[rows.length - 1].at)}.`) : open.slice(0, 2).map((window) => ticker(el("p", { class: "when" }), () => whenTo(pot, window, read, roomC(), Date.now()))),
        el("div", { class: "keys" },
          button("Reading", () => askReading(pot.name, "", ""), { "data-key": `${mine}read ${pot.name}` }),
          next >= 0 ? button(NAMES[facts.steps[next].tap], () => tapStep(next), { class: "chief", "data-key": `${mine}next ${pot.name}` }) : null,
          rows.length && !done ? button("Reheated", () => tapMark(pot.name, "reheated", -1), { "data-key": `${mine}heat ${pot.name}` }) : null));
    }

    function stepLine(step, at) {
      // What is next is read in full; the others are there to be found again.
      const event = eventOfStep(at), ahead = facts.steps.slice(0, at).filter((_, before) => !eventOfStep(before)).length;
      const line = el("li", { class: event ? "over" : ahead < 2 ? "next" : "" });
      const words = el("p", {}, step.says);
      if (!event) {
        line.append(words, button(NAMES[step.tap], () => tapStep(at), { "data-key": `${mine}step ${at}`, "aria-label": `${NAMES[step.tap]}: step ${at + 1}` }));
        return line;
      }
      line.append(words, button(clock(event.at), () => putRight(event.id), { class: "time", "data-key": `${mine}step ${at}`, "aria-label": `Step ${at + 1}, ${clock(event.at)}: put right` }));
      const ends = event.at + step.minutes * MINUTE;
      if (step.minutes) line.append(ticker(el("p", { class: "when" }), () => Date.now() < ends ? [`Until ${clock(ends)}.`, `${minutesText(ends - Date.now())} left.`] : [`Over since ${clock(ends)}.`, ""]));
      return line;
    }

    const pots = () => facts.pots.map(potPanel);
    const steps = (chooser) => el("section", { class: "steps" }, el("h2", {}, "Steps"), chooser, planLines(), el("ol", {}, facts.steps.map(stepLine)), el("p", { class: "cautions" }, facts.cautions));

    // -- bars --

    /* In which order a planned pot is poured or peeled, and what goes where. */
    const alone = new Set(turn.cavities.map((one) => one.variant)).size < 2;
    const ordered = (by) => [...turn.cavities].sort((a, b) => a[by] - b[by]);
    const orderText = (by) => ordered(by).map((one) => by === "poured" && !alone ? `${one.at}${NBSP}${one.variant || "either"}` : one.at).join(", ");
    const planLines = () => turn.cavities.length ? [["Pour in this order", "poured"], ["Peel in this order", "peeled"]].filter(([, by]) => turn.cavities[0][by]).map(([text, by]) => el("p", { class: "plan" }, el("b", {}, `${text}: `), orderText(by))) : [];

    function barCell(name) {
      const bar = state.bars[name] || {}, first = facts.measures[0], plan = planOf.get(name);
      const value = bar.empty ? "no bar" : bar.spoilt || (first && bar[first.name]) || "";
      const classes = ["cavity", lipClass(bar.lip), bar.keep === "no" ? "lost" : bar.keep === "yes" ? "fit" : ""];
      const variant = groups.map(([key]) => valueOf(state, name, key)).filter(Boolean).join("/");
      const lines = [variant, plan ? plan.code : "", value].filter(Boolean).flatMap((text) => [" ", el("small", {}, text)]);
      return button([el("b", {}, name), ...lines], () => { chosen = name; current = self; render(); scrollToPanel(); },
        { class: classes.filter(Boolean).join(" "), "aria-pressed": String(chosen === name), "data-key": `${mine}bar ${name}` });
    }

    /* The bars of a planned pot by their codes, which say nothing of what was planned. */
    const codes = () => [...turn.cavities].sort((a, b) => a.code < b.code ? -1 : 1).filter((one) => isBar(one.at));

    // What is each bar's own is not copied to the others.
    const notCopied = [...groups.map(([key]) => key), ...(facts.pieces.length ? ["piece"] : []), "note"];
    const isBlind = () => Boolean(turn.pour) || (byCode && turn.cavities.length > 0);

    function barPanel(name) {
      const bar = state.bars[name] || {}, set = (key) => (value) => act({ do: "bar", bar: name, key, value });
      const blind = isBlind(), order = blind ? codes().map((one) => one.at) : barNames;
      const called = (one) => blind ? planOf.get(one).code : one, next = order[order.indexOf(name) + 1];
      return el("section", { class: "panel", "aria-label": `Bar ${called(name)}` },
        el("h2", {}, `Bar ${called(name)}`),
        blind ? null : groups.map(([key, names]) => question(asTitle(key), "", `${name} ${key}`, names.map((one) => [one, one, ""]), valueOf(state, name, key), set(key))),
        blind || facts.pieces.length === 0 ? null : question("Piece", "that it was cast on", `${name} piece`, facts.pieces.map((one) => [one.name, one.id, ""]), bar.piece || "", set("piece")),
        facts.measures.map((measure) => measureQuestion(measure, name, bar[measure.name] || "", set(measure.name))),
        question("Spoilt", "so it is not judged", `${name} spoilt`, page.spoilt.map((one) => [asTitle(one), one, ""]), bar.spoilt || "", set("spoilt")),
        el("label", { class: "note" }, el("b", {}, "Note"), line("Note", `${name} note`, bar.note || "", set("note"))),
        el("div", { class: "keys" },
          Object.values(bar).some(Boolean) ? button("Clear this bar", () => act({ do: "blank", bar: name }), { "data-key": `${name} blank` }) : null,
          turn.counted && !blind && !bar.empty ? button("No bar here", () => act({ do: "bar", bar: name, key: "empty", value: "yes" }), { "data-key": `${name} empty` }) : null,
          blind || !facts.measures.some((one) => bar[one.name]) ? null : button(["All like this one", el("small", {}, `not its ${inWords(notCopied, "or")}`)], () => { add({ do: "like", bar: name }); said = `What the other bars lacked is now as bar ${name} has it.`; render(); }, { "data-key": `${name} like` }),
          next ? button(`Bar ${called(next)}`, () => { chosen = next; render(); scrollToPanel(); }, { class: "chief", "data-key": "next bar" }) : null));
    }

    function bars() {
      const head = el("h2", {}, turn.pour ? title : facts.mould.name || "Bars"), panel = chosen ? barPanel(chosen) : null;
      const batch = batchOf(state), tray = batch ? el("p", {}, "On the tray: ", el("b", { class: "code" }, batch)) : null;
      const pick = (code) => button(code ? "By code" : "By cavity", () => { byCode = code; chosen = ""; render(); }, { "aria-pressed": String(byCode === code), "data-key": code ? "by code" : "by cavity", class: "choice" });
      const how = turn.cavities.length && !turn.pour ? el("div", { class: "answers" }, pick(false), pick(true)) : null;
      if (isBlind()) {
        return [el("section", {}, head, how, el("p", {}, turn.pour ? "Tap the bar that you look at." : "For whoever judges: codes alone."),
          el("div", { class: "slips" }, codes().map((one) => button([el("b", {}, one.code), el("small", {}, facts.measures[0] && (state.bars[one.at] || {})[facts.measures[0].name] || "")], () => { chosen = one.at; current = self; render(); scrollToPanel(); },
            { class: "choice", "aria-pressed": String(chosen === one.at), "data-key": `slip ${one.code}` })))), panel];
      }
      const grid = el("div", { class: "mould", role: "group", "aria-label": "Bars" }, barNames.map(barCell));
      grid.style.gridTemplateColumns = `repeat(${Math.min(facts.mould.in_row, barNames.length)}, minmax(4.5rem, 1fr))`;
      grid.style.setProperty("--face", facts.mould.face);
      return [el("section", {}, head, tray, how, how ? planLines() : null,
        el("p", {}, `Tap a bar. Out of the mould, lay a slip with its ${how ? "code" : "number"} beside it.`), grid), panel];
    }

    // -- what was noted --

    function describe(event) {
      if (event.do === "step") return `${NAMES[facts.steps[event.step].tap]}: ${facts.steps[event.step].says.slice(0, 60)}`;
      const row = rowsOf(state, event.pot).find((one) => one.id === event.id);
      return `${event.pot} ${[row && row.mark, row && row.reads && degrees(row.reads)].filter(Boolean).join(", ")}`;
    }

    /* The time of something that was tapped, its temperature, or all of it taken back. */
    function putRight(id) {
      const event = state.events.find((one) => one.id === id);
      if (event === undefined) return;
      const close = () => { dialog.close(); dialog.remove(); render(); };
      const move = (to) => { add({ do: "time", of: id, to }); dialog.remove(); render(); putRight(id); };
      const typeTime = () => {
        dialog.close(); dialog.remove();
        pad({ title: "It was at", unit: "", time: true, enter: (value) => {
          if (value) { const [hours, minutes] = value.split(":").map(Number); add({ do: "time", of: id, to: new Date(event.at).setHours(hours, minutes, 0, 0) }); }
          render(); putRight(id);
        } });
      };
      const row = event.do === "step" ? null : rowsOf(state, event.pot).find((one) => one.id === id);
      const readAgain = () => {
        close();
        pad({ title: describe(event), unit: `°${page.degree}`, likely: WARM, enter: (value) => {
          if (value) add({ do: "read", pot: event.pot, reads: value, of: id });
          render();
        } });
      };
      const dialog = el("dialog", { class: "right", "aria-label": "Put right" },
        el("h2", {}, describe(event)), el("p", { class: "typed" }, clock(event.at)),
        el("div", { class: "digits four" }, [-5, -1, 1, 5].map((by) => button(`${by < 0 ? "−" : "+"}${Math.abs(by)}${NBSP}min`, () => move(event.at + by * MINUTE)))),
        el("div", { class: "keys" }, button("Type the time", typeTime), row ? button(row.reads ? "Another temperature" : "Add its temperature", readAgain) : null),
        el("div", { class: "keys" }, button("Take it back", () => { add({ do: "off", of: id }); close(); }), button("Done", close, { class: "chief" })));
      dialog.addEventListener("cancel", (cancelled) => { cancelled.preventDefault(); close(); });
      live.append(dialog);
      dialog.showModal();
    }

    /* Sets a field, in every pour that is open if it goes for all of them. */
    function setField(key, value) {
      if (SHARED.includes(key)) for (const one of opened()) if (one !== self && one.state.kind === "pour") one.add({ do: "field", key, value });
      act({ do: "field", key, value });
    }

    const fieldQuestion = (title, key, unit, quick, likely) => question(title, "", key, quick, state.fields[key] || "", (value) => setField(key, value), { unit, likely });

    function notes() {
      const date = el("input", { type: "date", "data-key": "date" }), batch = batchOf(state), label = state.fields.pour || "", by = state.fields.by || "";
      date.value = dateOf(state);
      date.addEventListener("change", () => { if (date.value) setField("date", date.value); });
      const listed = state.events.filter((event) => !(event.do === "read" && event.of)).reverse();
      // A page that is older than the write-up may have given a letter that is taken.
      const letters = [...(label ? [label] : []), freeLabel(label)], others = page.by.filter((one) => one !== by);
      return [
        el("section", {}, el("h2", {}, "The day"),
          el("label", { class: "note" }, el("b", {}, "Date"), date),
          question("Pour", batch ? "" : "Its letter makes the code for the tray.", "pour", letters.map((one) => [one, one, ""]), label, (value) => setField("pour", value), null,
            batch ? el("p", {}, "On the tray: ", el("b", { class: "code" }, batch)) : null),
          question("Who pours", "", "by", [...(by ? [by] : []), ...others].map((one) => [one, one, ""]), by, (value) => setField("by", value), null,
            line("Who pours", "by name", "", (value) => { if (value) setField("by", value); })),
          fieldQuestion("Room", "room", page.degree, [[page.room, page.room.replace(/\u00a0°/, " "), ""]], page.degree === "F" ? [45, 110] : [7, 43]),
          fieldQuestion("Humidity of the room, %", "humidity", "%", ["40", "50", "60", "70"].map((one) => [one, `${one} %`, ""]), [10, 95]),
          facts.pots.map((pot) => fieldQuestion(`All that was in the ${pot.name} pot`, `melted ${pot.name}`, page.mass_unit, pot.melt ? [[`${pot.melt.replace(" ", NBSP)}, by the card`, pot.melt, ""]] : []))),
        el("section", {}, el("h2", {}, "What you tapped"),
          listed.length ? el("p", {}, "Tap one to put it right.") : el("p", {}, "Nothing yet."),
          el("ul", { class: "taps" }, listed.map((event) => el("li", {}, button([el("b", {}, clock(event.at)), ` ${describe(event)}`], () => putRight(event.id), { "data-key": `tap ${event.id}` }))))),
      ];
    }

    // -- bars looked at again --

    /* Bars whose latest look is due: [bar, its day, the look that is due]. */
    function due(now) {
      const found = [];
      for (const bar of facts.poured) {
        const day = daysSince(bar.poured_on, now), look = [...page.looks].reverse().find((one) => one <= day);
        const until = page.looks[page.looks.indexOf(look) + 1] ?? 2 * look;
        if (look !== undefined && day < until && !bar.looks.some((one) => one >= look)) found.push([bar, day, look]);
      }
      return found;
    }

    function looks() {
      const now = due(Date.now());
      return [el("section", {}, el("h2", {}, "Bars to look at again"),
        el("div", { class: "slips" }, now.map(([bar, day]) => button([el("b", {}, bar.bar), el("small", {}, `day ${day}`)], () => { chosen = bar.bar; render(); scrollToPanel(); },
          { class: `choice ${state.looks[bar.bar] ? "fit" : ""}`, "aria-pressed": String(chosen === bar.bar), "data-key": `slip ${bar.bar}` })))),
        chosen ? lookPanel(chosen, now) : null];
    }

    function lookPanel(name, due) {
      const values = state.looks[name] || {}, set = (key) => (value) => act({ do: "look", bar: name, key, value });
      const names = due.map(([bar]) => bar.bar), next = names[names.indexOf(name) + 1];
      return el("section", { class: "panel", "aria-label": `Bar ${name}` }, el("h2", {}, `Bar ${name}`),
        facts.later.map((measure) => measureQuestion(measure, name, values[measure.name] || "", set(measure.name))),
        el("div", { class: "keys" }, state.looks[name] ? button("Clear this bar", () => act({ do: "blank", bar: name }), { "data-key": `${name} blank` }) : null, next ? button(`Bar ${next}`, () => { chosen = next; render(); scrollToPanel(); }, { class: "chief", "data-key": "next bar" }) : null));
    }

    // -- handed over --

    /* What is in it, and what it lacks. */
    const held = () => {
      if (state.kind === "looks") return counted(looksOf(state).length, "bar");
      const bars = counted(barsOf(state).length, "bar");
      return state.kind === "pour" ? `${counted(state.events.length, "tap")} at the pots, ${bars}` : bars;
    };

    function lacks() {
      const found = [];
      if (state.kind !== "pour") return found;
      const without = unread(state);
      if (without.length) found.push(`No temperature for: ${without.join(", ")}. It goes into the pour’s private note.`);
      for (const [key] of groups) {
        const open = barsOf(state).filter((bar) => !valueOf(state, bar, key));
        if (open.length) found.push(`${open.length > 1 ? "Bars" : "Bar"} ${inWords(open, "and")} without a ${key}. Tap one for each, or nothing is taken.`);
      }
      return found;
    }

    const title = turn.pour ? `${turn.name}, poured ${dayText(turn.poured_on)}` : turn.name || facts.title;
    const self = {
      prefix, facts, turn, mine, title, place,
      get sheet() { return sheet; }, get state() { return state; },
      empty() { sheets.clear(); },
      again() { if (sheet !== null && !sheets.has(sheet)) leave(); if (sheet !== null) state = fold([...sheets.get(sheet).values()]); },
      lookAt(bar) { chosen = bar; }, choose() { chosen = ""; current = self; },
      takeIn, dropHeadless, add, known, begin, open, leave, forget, handIn, pots, steps, bars, notes, looks, due, held, lacks,
    };
    return self;
  }

  const turns = page.turns.map(turnOf), pouring = turns.filter((one) => !one.turn.pour);
  const opened = () => turns.filter((one) => one.sheet !== null);

  // --- The parts of the page ----------------------------------------------------------------------------

  /* Which of several pours is looked at. */
  function chooser() {
    const open = opened();
    if (open.length < 2) return null;
    return el("div", { class: "answers", role: "group", "aria-label": "Which pour" }, open.map((one) => button(one.title, () => { one.choose(); render(); },
      { "aria-pressed": String(one === current), "data-key": `of ${one.place}`, class: "choice" })));
  }

  /* What can be begun or gone on with, by the days of a plan. */
  function beginnings() {
    const days = [...new Set(pouring.map((one) => one.turn.day))];
    return days.map((day) => {
      const own = pouring.filter((one) => one.turn.day === day && one.sheet === null).flatMap(turnKeys);
      return own.length ? el("section", {}, el("h2", {}, day ? `Day ${day}` : "Begin a pour"), el("div", { class: "keys stacked" }, own)) : null;
    });
  }

  function turnKeys(one) {
    const known = one.known(), planned = turns.some((other) => other.turn.planned);
    const offered = one.turn.planned || !planned, begun = known.filter(([, state]) => state.kind === "pour");
    const keys = begun.map(([name, state]) => button([`Go on: ${one.title}`, el("small", {}, `begun ${dayText(dayOf(state.begun))}, ${clock(state.begun)}${state.handed >= state.changes ? ", handed over" : ""}`)],
      () => { one.open(name); tab = "pots"; render(); }, { "data-key": `open ${name}` }));
    if (offered && !begun.length && !one.turn.over) {
      keys.push(button([one.title, el("small", {}, `${counted(one.facts.bars, "bar")}${one.turn.begins ? `, from ${one.turn.begins}` : ""}`)],
        () => { one.begin("pour"); tab = "pots"; render(); }, { "data-key": `${one.mine}begin` }));
    }
    return keys;
  }

  function potsTab() {
    const others = several ? beginnings().filter(Boolean) : [];
    return [
      // Pots that are poured stand behind those that are hot.
      ...opened().flatMap((one) => one.pots()).sort((a, b) => a.matches(".past") - b.matches(".past")),
      current.steps(chooser()),
      others.length ? el("details", {}, el("summary", {}, "Begin another pour"), others) : null,
    ];
  }

  // -- handing over --

  /* All that is open: as it is read by eye, or where it is several pours, a line each. */
  const textOf = () => {
    const all = opened().map((one) => one.handIn());
    return all.length > 1 ? all.map((one) => `${JSON.stringify(one)}\n`).join("") : JSON.stringify(all[0], null, 1);
  };
  const fileName = () => {
    const open = opened(), [{ state }] = open;
    return `${open.length > 1 ? "pours" : state.kind}-${open.length > 1 ? page.page : current.facts.design}-${dayOf(state.begun)}.${open.length > 1 ? "jsonl" : "json"}`;
  };
  const noteHanded = () => opened().forEach((one) => one.add({ do: "handed" }));

  async function handToServer() {
    said = "Handing over …";
    render();
    const answers = [], open = opened();
    for (const one of open) {
      try {
        const { taken, said: answer } = await post("/hand-in", one.handIn());
        if (taken) one.add({ do: "handed" });
        answers.push([one.title, answer]);
      } catch {
        answers.push(["", "The studio’s computer does not answer. Hand over as a file or as text, or try again later."]);
        break;
      }
    }
    const alike = new Set(answers.map(([, answer]) => answer)).size === 1;
    said = alike ? answers[0][1] : answers.map(([title, answer]) => title ? `${title}: ${answer}` : answer).join(" ");
    render();
  }

  function saveFile() {
    const link = el("a", { href: URL.createObjectURL(new Blob([textOf()], { type: "application/json" })), download: fileName() });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), MINUTE);
    noteHanded();
    said = `Saved as ${fileName()}, if this browser saves files. Look for it among your downloads.`;
    render();
  }

  function copyText(area) {
    area.focus();
    area.select();
    let copied = false;
    // The clipboard of today asks for https; this way is old, and works without.
    try { copied = document.execCommand("copy"); } catch { copied = false; }
    if (copied) noteHanded();
    said = copied ? "Copied. Paste it into a message, and put it into a file for journal take." : "Hold a finger on the text and choose Copy.";
    render();
  }

  function handTab() {
    const area = el("textarea", { readonly: true, rows: "7", "data-key": "text", "aria-label": "All of it as text", spellcheck: "false" });
    area.value = textOf();
    const open = opened(), several = open.length > 1, share = navigator.share && navigator.canShare;
    const file = () => new File([textOf()], fileName(), { type: "application/json" });
    const sharing = () => navigator.share({ files: [file()] }).then(() => { noteHanded(); said = "Shared."; render(); }).catch(() => {});
    const named = (one, text) => several ? `${one.title}: ${text}` : text;
    const lacks = open.flatMap((one) => one.lacks().map((text) => named(one, text)));
    const late = open.some(({ state }) => state.changes > state.handed), handed = open.some(({ state }) => state.handed);
    return [el("section", { class: "hand" }, el("h2", {}, "Hand over the same day"),
      open.map((one) => el("p", {}, named(one, `${one.held()}.`))),
      el("p", {}, "A phone may clear what it keeps, so do not leave it until tomorrow."),
      lacks.length ? el("ul", { class: "lacks" }, lacks.map((one) => el("li", {}, one))) : null,
      el("div", { class: "keys stacked" },
        server === "none" ? null : button("To the studio’s computer", handToServer, { class: "chief", "data-key": "hand" }),
        share && navigator.canShare({ files: [file()] }) ? button("Share it", sharing, { "data-key": "share" }) : null,
        button("Save as a file", saveFile, { "data-key": "file", class: server === "none" ? "chief" : "" }),
        button("Copy the text", () => copyText(area), { "data-key": "copy" })),
      area,
      el("p", {}, `On the computer: journal take ${fileName()}`)),
      el("section", {}, el("h2", {}, handed ? "Handed over" : "Or later"),
        el("p", {}, !handed ? "It stays on this phone. Go on with it from the first page." : late ? "Something was tapped since. Hand over again: it is known as the same." : "All of it was handed over."),
        el("div", { class: "keys" }, button("Back to the first page", () => { opened().forEach((one) => one.leave()); said = ""; render(); window.scrollTo(0, 0); }, { "data-key": "leave" }),
          handed ? button("Clear it from this phone", clear, { "data-key": "clear" }) : null))];
  }

  /* Nothing is cleared by one tap, and of several pours only those that were handed over. */
  function clear() {
    const close = () => { dialog.close(); dialog.remove(); };
    const dialog = el("dialog", { class: "right", "aria-label": "Clear it" },
      el("h2", {}, "Is it in the write-up?"), el("p", {}, "Once cleared it is no more on this phone."),
      el("div", { class: "keys" }, button("Clear it", () => { close(); opened().filter(({ state }) => state.handed).forEach((one) => one.forget()); render(); }), button("Keep it", close, { class: "chief" })));
    live.append(dialog);
    dialog.showModal();
  }

  // -- the beginning --

  function whatItCan() {
    const can = [
      storage === null ? "Nothing is kept here: this browser gives the page no storage. Hand over before you close it." : "Every tap is kept on this phone at once.",
      server === "none" ? "The studio’s computer is not reached from here. You hand over as a file or as text." : "The studio’s computer gets every tap while it answers.",
      navigator.wakeLock ? "The screen stays on." : "The screen may go dark: give it a longer time in the phone’s settings.",
      "A locked phone does not ring. A clock time stands beside every wait.",
    ];
    if (!navigator.share) can.push("Sharing needs a page over https: save a file, or copy the text.");
    return el("details", {}, el("summary", {}, "What this page can do here"), el("ul", {}, can.map((one) => el("li", {}, one))));
  }

  /* Bars of the write-up are judged on any phone, on any day: what was begun of them is gone on with. */
  function judgeKey(one) {
    const [begun] = one.known(), handed = begun && begun[1].handed >= begun[1].changes;
    return button([one.title, el("small", {}, `${counted(one.turn.cavities.length, "bar")}${handed ? ", handed over" : begun ? ", begun" : ""}`)],
      () => { if (begun) one.open(begun[0]); else one.begin("judged"); tab = "bars"; render(); }, { "data-key": `judge ${one.title}` });
  }

  function startPage() {
    const [first] = turns, known = first.known(), due = first.due(Date.now()), toJudge = turns.filter((one) => one.turn.pour);
    const goOn = ([name, one]) => button(`Go on: ${one.kind === "pour" ? "pour" : "looks"} of ${dayText(dayOf(one.begun))}, begun ${clock(one.begun)}${one.handed >= one.changes ? ", handed over" : ""}`,
      () => { first.open(name); tab = KINDS[one.kind]; render(); }, { "data-key": `open ${name}` });
    const left = several ? known.filter(([, one]) => one.kind === "looks") : known;
    return [
      ...(several ? beginnings() : [el("section", {}, el("div", { class: "keys stacked" }, button("Begin a pour", () => { first.begin("pour"); tab = "pots"; render(); }, { class: "chief", "data-key": "begin" })),
        el("p", {}, `${counted(Math.min(first.facts.mould.bars, first.facts.bars), "bar")} a pour. A further filling of the mould is another pour.`))]),
      left.length ? el("section", {}, el("h2", {}, "On this phone"), el("div", { class: "keys stacked" }, left.map(goOn))) : null,
      toJudge.length ? el("section", {}, el("h2", {}, "Not judged yet"), el("div", { class: "keys stacked" }, toJudge.map(judgeKey))) : null,
      due.length ? el("section", {}, el("h2", {}, "Look again"), el("p", {}, `${counted(due.length, "bar")} due: ${due.slice(0, 8).map(([bar, day]) => `${bar.bar} (day ${day})`).join(", ")}${due.length > 8 ? " …" : "."}`),
        el("div", { class: "keys stacked" }, button("Look at them", () => { first.begin("looks"); tab = "looks"; first.lookAt(due[0][0].bar); render(); }, { "data-key": "look" }))) : null,
      whatItCan(),
    ];
  }

  function render() {
    const focused = document.activeElement && document.activeElement.getAttribute && document.activeElement.getAttribute("data-key");
    ticking.length = 0;
    const open = opened(), now = ticker(el("p", { class: "now" }), () => [clock(Date.now()), ""]);
    if (!open.includes(current)) current = open[0] || null;
    statusLine = el("p", { class: "status", role: "status" });
    const tabs = !open.length ? [] : current.state.kind === "pour" ? [["pots", "Pots"], ["bars", "Bars"], ["notes", "Notes"], ["hand", "Hand over"]] : [[KINDS[current.state.kind], "Bars"], ["hand", "Hand over"]];
    const parts = { pots: potsTab, bars: () => [chooser(), ...current.bars()], notes: () => [chooser(), ...current.notes()], hand: handTab, looks: () => current.looks() };
    const body = open.length ? parts[tab]() : startPage();
    const last = open.filter((one) => one.state.last).sort((a, b) => b.state.last.at - a.state.last.at)[0];
    const undo = last ? button("Undo", () => { said = ""; last.add({ do: "off", of: last.state.last.id }); render(); }, { "data-key": "undo" }) : null;
    live.replaceChildren(
      el("div", { class: "head" }, now, undo, statusLine, said ? nowLine(said) : null),
      ...body.flat().filter(Boolean),
      tabs.length ? el("nav", { class: "tabs", "aria-label": "Parts of this page" }, tabs.map(([name, text]) => button(text, () => { tab = name; said = ""; current.choose(); render(); window.scrollTo(0, 0); },
        { "aria-current": tab === name ? "page" : undefined, "data-key": `tab ${name}` }))) : "");
    showStatus();
    if (focused) { const same = live.querySelector(`[data-key="${CSS.escape(focused)}"]`); if (same) same.focus({ preventScroll: true }); }
  }

  window.addEventListener("storage", (event) => {
    if (event.key !== null && !turns.some((one) => event.key.startsWith(one.prefix))) return;
    // Nothing that only this page has may go with what the other tab cleared.
    const own = [...unsaved];
    readStorage();
    for (const [key, text] of own) turns.find((one) => key.startsWith(one.prefix)).takeIn(key, text);
    shared = true;
    for (const one of turns) one.again();
    if (!document.querySelector("dialog[open]")) render();
  });
  window.addEventListener("beforeunload", (event) => { if (unsaved.size) event.preventDefault(); });
  document.addEventListener("visibilitychange", () => { if (opened().length && (awake === null || awake.released)) keepAwake(); });
  setInterval(() => ticking.forEach((turn) => turn()), 5000);

  document.documentElement.classList.add("scripted");
  live.hidden = false;
  readStorage();
  // What was broken off goes on where it was.
  const brokenOff = turns.flatMap((turn) => turn.known().map(([name, one]) => ({ turn, name, one }))).filter(({ one }) => !one.handed && Date.now() - one.begun < DAY).sort((a, b) => b.one.begun - a.one.begun);
  for (const { turn, name, one } of brokenOff) if (turn.sheet === null && one.kind === brokenOff[0].one.kind) turn.open(name);
  if (brokenOff.length) { current = brokenOff[0].turn; tab = KINDS[brokenOff[0].one.kind]; }
  render();

  // For the tests, which hold these to the figures of the program.
  window.bench = Object.freeze({ fitCooling, forecast, windowTimes });
})();
