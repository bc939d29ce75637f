// The card of the chosen change: all that is known of it, and the buttons to decide.
const card = {};

card.show = function show(place) {
  const entry = content.entries[place];
  if (!entry) return card.close();
  const focused = card.focusKey();
  byId("chosen-title").textContent = card.title(entry);
  byId("chosen-body").replaceChildren(...card.pieces(entry));
  byId("chosen").hidden = false;
  const again = focused && byId("chosen-body").querySelector(focused);
  if (again) again.focus();
};

// What has the focus within the card, so that drawing the card anew does not lose it.
card.focusKey = function focusKey() {
  const focused = document.activeElement;
  if (!focused || !byId("chosen-body").contains(focused)) return "";
  if (focused.dataset.decide) return `[data-decide="${focused.dataset.decide}"]`;
  return focused.name ? `[name="${focused.name}"][value="${focused.value}"]` : "";
};

card.close = function close() {
  byId("chosen").hidden = true;
  sheets.choose(null);
  strip.mark(-1);
};

card.title = function title(entry) {
  if (!isReview) return "This difference";
  return entry.kind === "open" ? "This open point" : "This change";
};

card.pieces = function pieces(entry) {
  const facts = [["Where", entry.where], [isReview ? "Rule" : "Class", entry.rule]];
  if (entry.fidelity) facts.push(["Fidelity", FIDELITIES[entry.fidelity]]);
  facts.push(["Outcome", OUTCOMES[entry.outcome] || entry.outcome]);
  if (entry.detail) facts.push(["Note", entry.detail]);
  const found = [
    made("p", { class: "what" }, entry.what),
    entry.why ? made("p", {}, entry.why) : "",
    made("dl", {}, ...facts.flatMap(([name, value]) => [made("dt", {}, name), made("dd", {}, value)])),
  ];
  const isDecidable = isReview && entry.id && entry.kind !== "open";
  if (isDecidable) found.splice(2, 0, card.buttons(entry));
  if (entry.options.length) found.push(card.options(entry, isDecidable));
  found.push(...card.links("Depends on", card.known(entry.depends)));
  if (isDecidable) found.push(...card.links("Falls with it", decided.falling(entry.id)));
  return found.filter((piece) => piece !== "");
};

card.known = (ids) => content.entries.filter((entry) => entry.id && ids.includes(entry.id));

card.links = function links(name, entries) {
  if (!entries.length) return [];
  const shown = entries.slice(0, 12).map((entry) => made("li", {}, made("button", {
    type: "button", class: "link", onclick: () => list.choose(content.entries.indexOf(entry)),
  }, `${entry.where}: ${shortened(entry.what, 60)}`)));
  const rest = entries.length - shown.length;
  return [made("p", {}, `${name}:`),
    made("ul", {}, ...shown, rest > 0 ? made("li", {}, `and ${rest} more`) : "")];
};

// A cost is in hundredths of a lever move.
card.cost = (option) => (option.cost === null ? "" : `${(option.cost / 100).toFixed(2)} moves`);

card.options = function options(entry, isDecidable) {
  const one = isDecidable && decided.of(entry.id);
  const chosen = one && one.table === "choose" ? one.row.option : "";
  const isFree = isDecidable && entry.options.some((option) => option.choosable);
  return made("fieldset", {}, made("legend", {}, entry.kind === "open" ? "What could be done" : "The ways that were weighed"),
    ...entry.options.map((option, number) => {
      const isOn = chosen ? option.key === chosen : option.taken;
      const cost = card.cost(option);
      const words = made("span", {}, option.text, option.taken ? " (taken)" : "");
      if (!isFree || !(option.taken || option.choosable)) {
        return made("p", { class: "option" }, made("span", {}, option.taken ? "●" : "·"), words,
          made("span", { class: "cost" }, cost));
      }
      const input = made("input", { type: "radio", name: "way", value: number, checked: isOn });
      input.addEventListener("change", () => {
        if (option.taken) {
          if (decided.of(entry.id)) decided.set(entry, decided.of(entry.id).table, decided.of(entry.id).row.option);
        } else decided.set(entry, "choose", option.key);
      });
      return made("label", { class: "option" }, input, words, made("span", { class: "cost" }, cost));
    }));
};

card.buttons = function buttons(entry) {
  const one = decided.of(entry.id);
  const button = (table, words, title) => made("button", {
    type: "button", "data-decide": table, title, "aria-pressed": String(Boolean(one && one.table === table)),
    onclick: () => decided.set(entry, table),
  }, words);
  const first = entry.kind === "note" && entry.before[0];
  const pin = first && made("button", {
    type: "button", "data-decide": "pin", onclick: async () => {
      await decided.offerNote(first);
      if (decided.note) decided.pin(decided.note, "The note is pinned.");
    },
  }, "Pin the note");
  return made("div", { class: "buttons" }, button("accept", "Accept", "Accept (A)"),
    button("decline", "Decline", "Decline (D)"), pin || "");
};
