// Puts the parts together when the page is read.
function goTo(column, smooth) {
  strip.mark(column);
  player.go(column);
  return sheets.go(column, smooth);
}

function chose(place, stay) {
  const entry = content.entries[place];
  card.show(place);
  sheets.choose(entry);
  strip.mark(entry.column);
  if (entry.column >= 0) {
    player.go(entry.column);
    if (!stay) sheets.go(entry.column, true);
  }
}

function decide(table) {
  const entry = content.entries[list.at];
  if (isReview && entry && entry.id && !byId("chosen").hidden) decided.set(entry, table);
}

const ROWS_DRAWN_AHEAD = 80;
const KEYS = {
  n: () => list.step(1),
  p: () => list.step(-1),
  a: () => decide("accept"),
  d: () => decide("decline"),
  u: () => isReview && decided.undo(),
  " ": () => content.listening && player.toggle(),
  Escape: () => card.close(),
};

function pressed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea")) return;
  if (event.key === " " && event.target.closest("button, summary, a, [tabindex]")) return;
  if (event.key !== "Escape" && !byId("keys-on").checked) return;
  const act = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  act();
}

function goToTyped() {
  const column = columnOfNumber(byId("go-to").value);
  if (column >= 0) goTo(column, true);
  else say("There is no measure with that number.");
}

async function printed() {
  byId("print").disabled = true;
  await sheets.drawAll();
  byId("print").disabled = false;
  window.print();
}

function start() {
  sheets.build();
  strip.build();
  harp.build();
  list.build();
  if (isReview) decided.build();
  player.build();
  list.onChoose = chose;
  sheets.onNote = (places) => {
    const at = places.indexOf(list.at);
    list.choose(places[(at + 1) % places.length], true);
  };
  sheets.onMeasure = (column) => {
    strip.mark(column);
    player.go(column);
  };
  if (isReview) {
    sheets.onPin = decided.offerNote;
    decided.onChange = () => !byId("chosen").hidden && card.show(list.at);
    byId("save").addEventListener("click", saveDecisions);
    byId("copy").addEventListener("click", copyDecisions);
  }
  strip.onGo = (column) => goTo(column, true);
  byId("previous").addEventListener("click", () => list.step(-1));
  byId("next").addEventListener("click", () => list.step(1));
  byId("before-chosen").addEventListener("click", () => list.step(-1));
  byId("after-chosen").addEventListener("click", () => list.step(1));
  byId("go").addEventListener("click", goToTyped);
  byId("go-to").addEventListener("keydown", (event) => event.key === "Enter" && goToTyped());
  byId("close-chosen").addEventListener("click", card.close);
  byId("print").addEventListener("click", printed);
  for (const button of document.querySelectorAll("[data-layout]")) {
    button.addEventListener("click", () => sheets.layout(button.dataset.layout));
  }
  const wide = window.matchMedia("(min-width: 80rem)").matches ? "beside" : "above";
  const kept = memory.read("leverwright:layout");
  sheets.layout(["beside", "above"].includes(kept) ? kept : wide);
  document.addEventListener("keydown", pressed);
  // A browser does not wait before it prints, so all systems are drawn as soon as it is idle.
  // Long scores stay light: what is printed of them is drawn by the Print button.
  if (sheets.rows.length > ROWS_DRAWN_AHEAD) return;
  const idle = window.requestIdleCallback || ((act) => setTimeout(act, 300));
  idle(async () => {
    for (let place = 0; place < sheets.rows.length && !document.hidden; place += 1) {
      await sheets.draw(place);
      await new Promise((go) => idle(go));
    }
    document.documentElement.dataset.drawn = "all";
  });
}

start();
