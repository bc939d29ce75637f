// The two scores: rows of systems that are unpacked when they come near the screen.
const SIDES = ["before", "after"];
const sheets = { rows: [], touching: new Map(), chosen: null, washes: [], onNote: null, onMeasure: null };

sheets.build = function build() {
  content.entries.forEach((entry, place) => {
    for (const side of SIDES) {
      for (const id of entry[side]) {
        const key = `${side[0]}-${id}`;
        if (!sheets.touching.has(key)) sheets.touching.set(key, []);
        sheets.touching.get(key).push(place);
      }
    }
  });
  const watcher = new IntersectionObserver(
    (seen) => {
      for (const one of seen) if (one.isIntersecting) sheets.draw(Number(one.target.dataset.row));
    },
    { rootMargin: "600px 0px" },
  );
  const fragment = document.createDocumentFragment();
  content.rows.forEach((row, place) => {
    const element = sheets.row(row, place);
    sheets.rows.push({ element, state: 0, holders: [...element.querySelectorAll(".system")] });
    fragment.append(element);
  });
  byId("scores").append(fragment);
  for (const row of sheets.rows) watcher.observe(row.element);
  byId("scores").addEventListener("click", sheets.clicked);
};

sheets.row = function row(row, place) {
  const first = numberOf(row.first);
  const last = numberOf(row.last);
  const named = first === last ? `measure ${first}` : `measures ${first} to ${last}`;
  const element = made("section", { class: "row", "data-row": place, "aria-label": named });
  for (const side of SIDES) {
    const figure = made("figure", { class: side },
      made("figcaption", {}, side === "before" ? "Before" : "After", " ", made("span", {}, named)));
    for (const system of row[side]) {
      const holder = made("div", {
        class: "system", "data-side": side, role: "img", "aria-label": `${side}, ${named}`,
      });
      holder.style.aspectRatio = `${system.width} / ${system.height}`;
      holder.packed = system.packed;
      figure.append(holder);
    }
    if (!row[side].length) {
      figure.append(made("p", { class: "none" }, `Not in the score ${side}`));
    }
    element.append(figure);
  }
  return element;
};

// Unpack a row's pictures and tint what was changed; resolves when they stand in the page.
sheets.draw = function draw(place) {
  const row = sheets.rows[place];
  if (!row) return Promise.resolve();
  if (!row.state) row.state = Promise.all(row.holders.map(sheets.fill)).then(() => sheets.drawn(place));
  return row.state;
};

// A picture that comes into the page later shows the chosen change too.
sheets.drawn = function drawn(place) {
  const row = content.rows[place];
  const entry = sheets.chosen;
  if (entry && row.first <= entry.column + 2 && entry.column - 2 <= row.last) sheets.halo();
};

sheets.fill = async function fill(holder) {
  const text = await unpacked(holder.packed);
  const parsed = new DOMParser().parseFromString(
    text.replace("<svg ", `<svg xmlns="${SVG}" `), "image/svg+xml");
  const picture = document.importNode(parsed.documentElement, true);
  picture.setAttribute("aria-hidden", "true");
  for (const element of picture.querySelectorAll("[id], [data-mark]")) {
    if (sheets.touching.has(element.id) || sheets.touching.has(element.dataset.mark)) {
      element.classList.add("touched");
    }
  }
  holder.replaceChildren(picture);
  holder.packed = "";
};

sheets.drawAll = async function drawAll() {
  await Promise.all(sheets.rows.map((_, place) => sheets.draw(place)));
};

sheets.clicked = function clicked(event) {
  const holder = event.target.closest(".system");
  if (!holder) return;
  const mark = event.target.closest(".touched") || sheets.near(holder, ".touched", event);
  const measure = event.target.closest(".measure") || sheets.measureAt(holder, event);
  const column = measure ? sheets.columnOf(measure.id) : -1;
  const note = event.target.closest(".note") || sheets.near(holder, ".note", event);
  if (note && holder.dataset.side === "before" && sheets.onPin) sheets.onPin(note.id.slice(2));
  if (mark) {
    const places = sheets.touching.get(mark.id) || sheets.touching.get(mark.dataset.mark);
    if (places && sheets.onNote) return sheets.onNote(places);
  }
  if (column >= 0 && sheets.onMeasure) sheets.onMeasure(column);
};

// What lies under the pointer though nothing of it is inked there, as in a hollow notehead.
sheets.near = function near(holder, kind, event) {
  return [...holder.querySelectorAll(kind)].find((element) => {
    const box = (element.querySelector("use") || element).getBoundingClientRect();
    return event.clientX >= box.left - 2 && event.clientX <= box.right + 2 &&
      event.clientY >= box.top - 2 && event.clientY <= box.bottom + 2;
  });
};

// The measure at a place where nothing is printed.
sheets.measureAt = function measureAt(holder, event) {
  return [...holder.querySelectorAll(".measure")].find((measure) => {
    const box = measure.getBoundingClientRect();
    return event.clientX >= box.left && event.clientX <= box.right;
  });
};

sheets.columnOf = function columnOf(id) {
  const place = id[0] === "b" ? 1 : 2;
  const index = Number(id.slice(4));
  return content.columns.findIndex((column) => column[place] === index);
};

sheets.rowOf = (column) =>
  content.rows.findIndex((row) => row.first <= column && column <= row.last);

// Bring a column into sight, in both scores.
sheets.go = async function go(column, smooth) {
  const place = sheets.rowOf(column);
  if (place < 0) return;
  await sheets.draw(place);
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  sheets.rows[place].element.scrollIntoView({
    block: matchMedia("(max-width: 68rem)").matches ? "start" : "center",
    behavior: smooth && !calm ? "smooth" : "instant",
  });
};

sheets.choose = function choose(entry) {
  sheets.chosen = entry;
  sheets.halo();
};

// Frame the chosen change's measure in both scores, and put a wash behind its notes.
sheets.halo = function halo() {
  for (const old of sheets.washes.splice(0)) old.remove();
  const entry = sheets.chosen;
  if (!entry) return;
  for (const side of SIDES) {
    for (const id of entry[side]) {
      const key = `${side[0]}-${id}`;
      const elements = id[0] === "d" ? sheets.marked(entry, key) : [byId(key)];
      for (const element of elements) if (element) sheets.wash(element);
    }
    const column = content.columns[entry.column];
    const index = column ? column[side === "before" ? 1 : 2] : -1;
    const measure = index >= 0 && byId(`${side[0]}-m-${index}`);
    if (measure) sheets.frame(measure);
  }
};

// The drawn pieces of a direction, in the row of the entry that touches it.
sheets.marked = function marked(entry, key) {
  const row = sheets.rows[sheets.rowOf(entry.column)];
  return row ? row.element.querySelectorAll(`[data-mark="${CSS.escape(key)}"]`) : [];
};

// A wash behind a note or words, at the very back of its picture.
sheets.wash = function wash(element) {
  const box = (element.closest("text") || element).getBBox();
  if (box.width || box.height) sheets.behind(element, "halo", box, 120);
};

// A frame around a measure's staves: what the longest line of each staff spans.
sheets.frame = function frame(measure) {
  const boxes = [...measure.querySelectorAll(":scope > .staff > path")].map((line) => line.getBBox());
  const width = Math.max(0, ...boxes.map((box) => box.width));
  const lines = boxes.filter((box) => box.width === width && !box.height);
  if (!lines.length) return;
  const top = Math.min(...lines.map((box) => box.y));
  const height = Math.max(...lines.map((box) => box.y)) - top;
  sheets.behind(measure, "frame", { x: lines[0].x, y: top, width, height }, 260);
};

sheets.behind = function behind(element, kind, box, room) {
  const rect = drawnElement("rect", {
    class: kind, x: box.x - (kind === "frame" ? 0 : room), y: box.y - room, rx: 120,
    width: box.width + (kind === "frame" ? 0 : 2 * room), height: box.height + 2 * room,
  });
  element.closest("svg").firstElementChild.prepend(rect);
  sheets.washes.push(rect);
};

sheets.light = function light(id, on, side) {
  const element = byId(`${side[0]}-${id}`);
  if (element) element.classList.toggle("lit", on);
};

sheets.layout = function layout(name) {
  byId("scores").className = name;
  for (const button of document.querySelectorAll("[data-layout]")) {
    button.setAttribute("aria-pressed", String(button.dataset.layout === name));
  }
  memory.write("leverwright:layout", name);
};
