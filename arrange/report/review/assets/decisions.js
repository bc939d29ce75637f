// What the editor decides: rows of the decisions file, each undoable, kept between visits.
const ABOUT_CHANGES = ["accept", "decline", "choose"];
const decided = { rows: [], all: false, by: "", past: [], onChange: null };

decided.build = function build() {
  decided.key = `leverwright:decisions:${content.basis.source.sha256}:${content.result}`;
  decided.rows = content.decided.rows;
  decided.all = content.decided.all;
  decided.restore(memory.read(decided.key));
  byId("who").value = decided.by;
  byId("who").addEventListener("input", () => {
    decided.by = byId("who").value.trim();
    decided.keep();
  });
  byId("undo").addEventListener("click", decided.undo);
  byId("decline-all").addEventListener("click", () => decided.change(() => {
    decided.all = !decided.all;
  }, decided.all ? "Not everything is declined any more." : "Everything is declined."));
  byId("deciding").hidden = false;
  decided.buildPins();
  decided.told();
};

// What an earlier visit kept; taken only where it has the shape of what is written here.
decided.restore = function restore(kept) {
  if (!kept || typeof kept !== "object" || !Array.isArray(kept.rows)) return;
  const isRow = (one) => one && typeof one === "object" && one.row && typeof one.row === "object" &&
    (ABOUT_CHANGES.includes(one.table)
      ? typeof one.row.change === "string" && typeof one.row.rule === "string"
      : one.table === "pin" && ["note", "key", "lever"].includes(one.row.kind));
  decided.rows = kept.rows.filter(isRow);
  decided.all = kept.all === true;
  decided.by = typeof kept.by === "string" ? kept.by.slice(0, 60) : "";
};

decided.keep = () =>
  memory.write(decided.key, { rows: decided.rows, all: decided.all, by: decided.by });

// Change the decisions so that it can be undone.
decided.change = function change(act, words) {
  decided.past.push(JSON.stringify([decided.rows, decided.all]));
  act();
  decided.keep();
  decided.told();
  if (words) say(words);
};

decided.undo = function undo() {
  const last = decided.past.pop();
  if (!last) return;
  [decided.rows, decided.all] = JSON.parse(last);
  decided.keep();
  decided.told();
  say("Undone.");
};

decided.of = (id) =>
  decided.rows.find((one) => ABOUT_CHANGES.includes(one.table) && one.row.change === id);

// Accept, decline or choose; the same again takes it back.
decided.set = function set(entry, table, option) {
  const old = decided.of(entry.id);
  const isSame = old && old.table === table && (old.row.option || "") === (option || "");
  decided.change(() => {
    decided.rows = decided.rows.filter((one) => one !== old);
    if (isSame) return;
    const row = { ...content.basis.changes[entry.id], by: decided.by };
    if (option) row.option = option;
    decided.rows.push({ table, row });
  }, isSame ? "No decision about this change." : `${decided.word(table)}: ${entry.what}`);
};

decided.word = (table) =>
  ({ accept: "Accepted", decline: "Declined", choose: "Chosen otherwise", pin: "Pinned" })[table];

decided.pin = (row, words) => decided.change(() => {
  const isSame = (one) => one.table === "pin" && one.row.kind === row.kind &&
    (row.kind === "key" || (JSON.stringify(one.row.place) === JSON.stringify(row.place) &&
      (one.row.string || "") === (row.string || "") && (one.row.pitch || "") === (row.pitch || "")));
  decided.rows = decided.rows.filter((one) => !isSame(one));
  decided.rows.push({ table: "pin", row: { ...row, by: decided.by } });
}, words);

// All changes that fall with this one, the dependents of dependents too.
decided.falling = function falling(id) {
  const found = new Set([id]);
  let size = 0;
  while (size !== found.size) {
    size = found.size;
    for (const entry of content.entries) {
      if (entry.id && entry.depends.some((other) => found.has(other))) found.add(entry.id);
    }
  }
  found.delete(id);
  return content.entries.filter((entry) => found.has(entry.id));
};

decided.told = function told() {
  const counts = [...ABOUT_CHANGES, "pin"].map((table) => [
    decided.word(table).toLowerCase(), decided.rows.filter((one) => one.table === table).length,
  ]).filter((pair) => pair[1]);
  const words = counts.map(([word, many]) => `${many} ${word}`);
  if (decided.all) words.unshift("everything declined");
  byId("decided").textContent = words.length ? `${words.join(", ")}.` : "Nothing is decided yet.";
  byId("undo").disabled = !decided.past.length;
  byId("decline-all").setAttribute("aria-pressed", String(decided.all));
  byId("decided-list").replaceChildren(...decided.rows.map((one) => made("li", {},
    made("span", {}, `${decided.word(one.table)}: ${decided.what(one)}`),
    made("button", {
      type: "button", class: "link", "aria-label": `Take back: ${decided.what(one)}`,
      onclick: () => decided.change(() => {
        decided.rows = decided.rows.filter((other) => other !== one);
      }, "Taken back."),
    }, "take back"))));
  content.entries.forEach(decided.tellEntry);
  if (!byId("as-text").hidden) byId("as-text").value = decisionsText();
  if (decided.onChange) decided.onChange();
};

decided.what = function what(one) {
  const place = one.row.place ? ` (measure ${one.row.place.measure || one.row.place.index + 1})` : "";
  if (one.table !== "pin") return `${shortened(one.row.sentence || one.row.rule, 90)}${place}`;
  if (one.row.kind === "key") return one.row.key === "keep" ? "the key of the source" : `the key, ${one.row.key}`;
  if (one.row.kind === "lever") return `lever ${one.row.string} ${one.row.position}${place}`;
  return `${one.row.pitch} stays${place}`;
};

decided.tellEntry = function tellEntry(entry, place) {
  const one = entry.id && decided.of(entry.id);
  if (one) list.state(place, decided.word(one.table), { accept: "s-accepted", decline: "s-declined", choose: "s-chosen" }[one.table]);
  else if (decided.all && entry.outcome === "APPLIED") list.state(place, "Declined", "s-declined");
  else if (entry.outcome === "APPLIED") list.state(place, "", "");
  else list.state(place, OUTCOMES[entry.outcome], `s-${entry.outcome}`);
};

decided.buildPins = function buildPins() {
  byId("pin-key").append(made("option", { value: "keep" }, "as in the source"));
  for (const key of content.keys) {
    if (key.semitones === 0) continue;
    const words = `${key.key} (${key.interval}): ${counted(key.moves, "move")}, ${key.open} open`;
    byId("pin-key").append(made("option", { value: key.interval }, words));
  }
  byId("pin-key").value = content.key === "P1" ? "keep" : content.key;
  for (const string of content.strings) {
    if (string.raised) byId("pin-string").append(made("option", { value: string.string }, string.string));
  }
  byId("pin-key-now").addEventListener("click", () =>
    decided.pin({ kind: "key", key: byId("pin-key").value }, "The key is pinned."));
  byId("pin-lever-now").addEventListener("click", decided.pinLever);
  byId("pin-note-now").addEventListener("click", () => {
    if (decided.note) decided.pin(decided.note, "The note is pinned.");
  });
};

decided.pinLever = function pinLever() {
  const column = columnOfNumber(byId("pin-measure").value || numberOf(0));
  if (column < 0 || content.columns[column][1] < 0) {
    say("There is no measure with that number.");
    byId("pin-measure").setAttribute("aria-invalid", "true");
    byId("pin-measure").focus();
    return;
  }
  byId("pin-measure").removeAttribute("aria-invalid");
  const [number, index] = content.columns[column];
  decided.pin({
    kind: "lever", string: byId("pin-string").value, position: byId("pin-position").value,
    place: { part: content.part, index, measure: number, offset: "0" },
  }, "The lever is pinned.");
};

// A note of the score before that may be pinned.
decided.offerNote = async function offerNote(id) {
  decided.notes ||= unpacked(content.notes).then(JSON.parse);
  const known = (await decided.notes)[id];
  if (!known) return;
  const [part, index, measure, offset, staff, voice, note, pitch, beat] = known;
  decided.note = {
    kind: "note", pitch, place: { part, index, measure, offset, staff, voice, note },
  };
  byId("note-to-pin").textContent = `${pitch}, measure ${measure}${beat ? `, ${beat}` : ""}, staff ${staff}`;
  byId("pin-note-now").disabled = false;
};
