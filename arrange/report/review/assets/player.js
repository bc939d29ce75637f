// Listening: before, after, or the two in turn.
const player = { made: {}, timelines: null, now: null, column: 0 };

player.build = function build() {
  if (!content.listening) return;
  byId("listening").hidden = false;
  byId("play").addEventListener("click", player.toggle);
  byId("heard").addEventListener("change", () => player.change());
  byId("speed").addEventListener("change", () => {
    for (const one of Object.values(player.made)) one.speed(Number(byId("speed").value));
  });
  byId("clicks").addEventListener("change", () => {
    for (const one of Object.values(player.made)) one.clicks(byId("clicks").checked);
  });
};

player.load = function load() {
  player.timelines ||= Promise.all(content.listening.map(unpacked)).then((texts) => texts.map(JSON.parse));
  return player.timelines;
};

player.listening = async function listening(name) {
  const [before, after] = await player.load();
  if (!player.made[name]) {
    const told = (side) => ({
      onNote: (id, on, from) => sheets.light(id, on, from || side),
      onLever: (string, position, number, from) => {
        if ((from || side) === "after") harp.lever(string, position, number);
      },
      onMeasure: (index, pass, from) => player.measure(index, from || side),
      onEnd: () => player.showPlaying(false),
      clicks: byId("clicks").checked,
    });
    player.made[name] = name === "turn"
      ? new InTurn(before, after, { every: 1, pairs: player.pairs(before, after), ...told("after") })
      : new Listening(name === "before" ? before : after, told(name));
    player.made[name].speed(Number(byId("speed").value));
  }
  return player.made[name];
};

// Where the two scores have other measures, places in the order of play are paired by columns.
player.pairs = function pairs(before, after) {
  if (content.columns.every((column) => column[1] === column[2])) return undefined;
  const places = new Map(before.measures.map((one, place) => [`${one.index}:${one.pass}`, place]));
  const partner = new Map(content.columns.map((column) => [column[2], column[1]]));
  return after.measures.map((one, place) => {
    const other = places.get(`${partner.get(one.index)}:${one.pass}`);
    return [other === undefined ? null : other, place];
  });
};

player.toggle = async function toggle() {
  const name = byId("heard").value;
  if (player.now && player.isPlaying) return player.pause();
  const one = await player.listening(name);
  player.now = one;
  player.showPlaying(true);
  const index = player.index(name);
  try {
    await (player.isMoved ? one.play(index, 1) : one.play());
    player.isMoved = false;
  } catch (error) {
    player.showPlaying(false);
    say(`It cannot be played: ${error.message}`);
  }
};

// The chosen column as a measure of what is heard, or of the next column that has one.
player.index = function index(name) {
  const place = name === "before" ? 1 : 2;
  for (let column = player.column; column < content.columns.length; column += 1) {
    if (content.columns[column][place] >= 0) return content.columns[column][place];
  }
  return 0;
};

player.pause = function pause() {
  if (player.now) player.now.pause();
  player.showPlaying(false);
};

player.change = async function change() {
  const wasPlaying = player.isPlaying;
  player.pause();
  player.isMoved = true;
  if (wasPlaying) await player.toggle();
};

player.showPlaying = function showPlaying(isPlaying) {
  player.isPlaying = isPlaying;
  byId("play").textContent = isPlaying ? "❚❚ Pause" : "▶ Play";
  byId("play").setAttribute("aria-pressed", String(isPlaying));
};

player.measure = function measure(index, side) {
  const place = side === "before" ? 1 : 2;
  const column = content.columns.findIndex((one) => one[place] === index);
  if (column < 0) return;
  const row = sheets.rowOf(column);
  if (player.isPlaying) player.column = column;
  strip.cursor(column);
  byId("harp-place").textContent = `at measure ${numberOf(column)}`;
  if (!player.isPlaying || row === player.row) return;
  if (player.row !== undefined) sheets.rows[player.row].element.classList.remove("playing-now");
  player.row = row;
  sheets.rows[row].element.classList.add("playing-now");
  sheets.go(column, true);
  sheets.draw(row + 1);
};

// The cursor goes to a column: what is played next begins there, and the harp shows its levers.
player.go = async function go(column) {
  player.column = column;
  player.isMoved = true;
  strip.cursor(column);
  if (!content.listening) return;
  if (player.isPlaying) {
    player.now.seek(player.index(byId("heard").value), 1);
    player.isMoved = false;
  }
  const after = content.columns[column][2];
  if (after < 0 || !harp.start.length) return;
  const one = await player.listening("after");
  harp.show(one.leversAt(after, 1), `at measure ${numberOf(column)}`);
};
