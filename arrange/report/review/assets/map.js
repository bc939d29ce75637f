// The strip: the whole piece in one line, a lane for each kind of thing; a click goes there.
const LANES_OF_REVIEW = [
  ["note", "notes changed"],
  ["mark", "marks changed"],
  ["move", "lever moves"],
  ["open", "open points"],
];
const LANES_OF_COMPARISON = [
  ["notes", "notes", "k-note"],
  ["rhythm", "rhythm", "k-move"],
  ["marks", "marks", "k-mark"],
  ["structure", "structure", "k-open"],
];
const LANE_HEIGHT = 16;
const strip = { lanes: isReview ? LANES_OF_REVIEW : LANES_OF_COMPARISON, onGo: null };

strip.build = function build() {
  const count = Math.max(content.columns.length, 1);
  const height = strip.lanes.length * LANE_HEIGHT + 8;
  const told = strip.lanes.map(([kind, name]) => `${strip.columns(kind).size} with ${name}`);
  strip.picture = drawnElement("svg", {
    viewBox: `0 0 ${count} ${height}`, preserveAspectRatio: "none", role: "img",
    "aria-label": `${counted(count, "measure")}: ${told.join(", ")}`,
  });
  for (let column = 0; column < count; column += strip.spacing(count)) {
    strip.picture.append(drawnElement("path", { class: "tick", d: `M${column} 0V${height}` }));
  }
  strip.lanes.forEach(([kind, , style], lane) => {
    for (const [column, many] of strip.columns(kind)) {
      const tall = Math.min(5 + 3 * many, LANE_HEIGHT - 3);
      strip.picture.append(drawnElement("rect", {
        class: style || `k-${kind}`, x: column + 0.08, width: 0.84,
        y: 4 + lane * LANE_HEIGHT + (LANE_HEIGHT - tall) / 2, height: tall,
      }));
    }
  });
  strip.here = drawnElement("rect", { class: "here", y: 1, height: height - 2, width: 1, x: -9 });
  strip.at = drawnElement("path", { class: "at", d: `M-9 0V${height}` });
  strip.picture.append(strip.here, strip.at);
  strip.picture.addEventListener("click", (event) => {
    const box = strip.picture.getBoundingClientRect();
    const column = Math.floor(((event.clientX - box.left) / box.width) * count);
    if (strip.onGo) strip.onGo(Math.max(0, Math.min(count - 1, column)));
  });
  byId("strip").append(strip.picture);
  for (const [kind, name, style] of strip.lanes) {
    byId("map-legend").append(made("li", {}, drawnElement("svg", { viewBox: "0 0 10 10" },
      drawnElement("path", { class: style || `k-${kind}`, d: "M0 0H10V10H0z" })), name));
  }
};

strip.columns = function columns(kind) {
  const things = kind === "move" && isReview
    ? content.moves
    : content.entries.filter((entry) => entry.kind === kind);
  const found = new Map();
  for (const thing of things) {
    if (thing.column >= 0) found.set(thing.column, (found.get(thing.column) || 0) + 1);
  }
  return found;
};

strip.spacing = (count) => [1, 5, 10, 50, 100].find((step) => count / step <= 60) || 500;
strip.mark = (column) => strip.here.setAttribute("x", column >= 0 ? column : -9);
strip.cursor = (column) => strip.at.setAttribute("transform", `translate(${column + 9.5} 0)`);
