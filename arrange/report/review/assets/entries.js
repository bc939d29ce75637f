// The list of changes, its filters, and the one that is chosen.
const OUTCOMES = {
  APPLIED: "done", SUGGESTED: "suggested", DECLINED: "declined", STALE: "out of date",
  CONFLICT: "in conflict", BLOCKED: "not possible", OPEN: "open",
};
const FIDELITIES = { EXACT: "exact", IDIOMATIC: "idiomatic", LOSSY: "lossy" };
const list = { items: [], shown: [], at: -1, onChoose: null };

list.build = function build() {
  const fragment = document.createDocumentFragment();
  content.entries.forEach((entry, place) => {
    const state = made("span", { class: "state" });
    const button = made("button", { type: "button", onclick: () => list.choose(place) },
      made("span", { class: "place" }, entry.where, entry.rule ? ` · ${entry.rule}` : ""),
      made("span", { class: "what" }, shortened(entry.what, 220)),
      entry.why ? made("span", { class: "why" }, entry.why) : "", state);
    const item = made("li", {}, button);
    list.items.push({ item, button, state });
    fragment.append(item);
  });
  byId("list").append(fragment);
  list.options("by-rule", content.entries.map((entry) => [entry.rule, entry.rule]));
  list.options("by-fidelity", content.entries.map((e) => [e.fidelity, FIDELITIES[e.fidelity]]));
  list.options("by-outcome", content.entries.map((e) => [e.outcome, OUTCOMES[e.outcome] || e.outcome]));
  if (!isReview) {
    byId("fidelity-field").hidden = true;
    byId("rule-label").textContent = "Class";
    byId("changes-title").textContent = "Differences";
  }
  const filters = byId("filters");
  filters.addEventListener("input", list.filter);
  filters.addEventListener("submit", (event) => event.preventDefault());
  filters.addEventListener("reset", () => setTimeout(list.filter));
  byId("list").addEventListener("keydown", list.arrows);
  list.filter();
};

list.options = function options(id, pairs) {
  const names = new Map(pairs.filter(([value]) => value));
  byId(id).append(made("option", { value: "" }, "all"));
  for (const [value, name] of names) {
    const many = pairs.filter((pair) => pair[0] === value).length;
    byId(id).append(made("option", { value }, `${name} (${many})`));
  }
};

list.filter = function filter() {
  const rule = byId("by-rule").value;
  const fidelity = byId("by-fidelity").value;
  const outcome = byId("by-outcome").value;
  const from = byId("from-measure").value.trim();
  const to = byId("to-measure").value.trim();
  const first = from ? columnOfNumber(from) : 0;
  const last = to ? columnOfNumber(to) : content.columns.length;
  const isUnknown = (from && first < 0) || (to && last < 0);
  list.shown = [];
  content.entries.forEach((entry, place) => {
    const isIn = !(from || to) || (entry.column >= first && entry.column <= last);
    const isShown = isIn && !isUnknown && (!rule || entry.rule === rule) &&
      (!fidelity || entry.fidelity === fidelity) && (!outcome || entry.outcome === outcome);
    list.items[place].item.hidden = !isShown;
    if (isShown) list.shown.push(place);
  });
  const noun = isReview ? "entry" : "difference";
  const nouns = isReview ? "entries" : "differences";
  byId("count").textContent = isUnknown
    ? "There is no measure with that number."
    : `${list.shown.length} of ${counted(content.entries.length, noun, nouns)} shown`;
  list.tellPosition();
};

list.tellPosition = function tellPosition() {
  const at = list.shown.indexOf(list.at);
  byId("position").textContent = at < 0 ? `${list.shown.length} in all` : `${at + 1} of ${list.shown.length}`;
};

// Choose an entry: mark it in the list, show it, go there in both scores.
list.choose = function choose(place, stay) {
  const old = list.items[list.at];
  if (old) old.button.removeAttribute("aria-current");
  list.at = place;
  const now = list.items[place];
  if (now) {
    now.button.setAttribute("aria-current", "true");
    if (now.item.hidden) byId("filters").reset();
  }
  list.tellPosition();
  if (list.onChoose) list.onChoose(place, stay);
  if (now) list.intoView(now.item);
};

// Scroll the panel, not the page, where the panel scrolls by itself.
list.intoView = function intoView(item) {
  const panel = byId("panel-rest");
  if (panel.scrollHeight <= panel.clientHeight + 1) return;
  const box = item.getBoundingClientRect();
  const around = panel.getBoundingClientRect();
  const bottom = Math.min(around.bottom, window.innerHeight);
  if (box.top < around.top || box.bottom > bottom) {
    panel.scrollTop += box.top - around.top - Math.max(bottom - around.top, 0) / 3;
  }
};

list.step = function step(by) {
  if (!list.shown.length) return;
  const at = list.shown.indexOf(list.at);
  const next = at < 0 ? (by > 0 ? 0 : list.shown.length - 1) : at + by;
  const place = list.shown[(next + list.shown.length) % list.shown.length];
  list.choose(place);
  const entry = content.entries[place];
  say(`${entry.where}: ${entry.what}`);
};

list.arrows = function arrows(event) {
  const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const at = list.shown.findIndex((place) => list.items[place].button === document.activeElement);
  if (!by || at < 0) return;
  const next = list.shown[at + by];
  if (next === undefined) return;
  event.preventDefault();
  list.items[next].button.focus();
};

list.state = function state(place, words, style) {
  const mark = list.items[place].state;
  mark.textContent = words;
  mark.className = `state ${style}`;
};
