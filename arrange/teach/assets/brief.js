// The practice sound: a hand or both, at a pace, from a measure, counted in; and the MIDI files.
const byId = (id) => document.getElementById(id);
const content = JSON.parse(byId("content").textContent);
const state = { made: {}, now: null, timeline: null, waiting: 0, clicks: null };

async function inflated(base64) {
  const bytes = Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0));
  return new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
}

function say(text) {
  const told = byId("said");
  told.textContent = told.textContent === text ? `${text} ` : text;
}

// What one hand plays, as a timeline of its own: levers and measures stay as they are.
async function listening(hand) {
  state.timeline ||= JSON.parse(await new Response(await inflated(content.listening)).text());
  if (!state.made[hand]) {
    const column = state.timeline.columns.indexOf("hand");
    const plucks = hand === "both" ? state.timeline.plucks
      : state.timeline.plucks.filter((row) => row[column] === hand);
    state.made[hand] = new Listening({ ...state.timeline, plucks }, {
      onNote: light, onLever: lever, onMeasure: measure, onEnd: () => show(false),
    });
  }
  return state.made[hand];
}

function light(id, on) {
  const note = byId(`l-${id}`);
  if (note) note.classList.toggle("lit", on);
}

function lever(string, position, harp) {
  const drawn = harp === 0 && byId(`lever-0-${string}`);
  if (drawn) drawn.classList.replace(position === "up" ? "down" : "up", position);
}

function measure(index, pass) {
  const again = pass > 1 ? `, time ${pass}` : "";
  const told = `Measure ${content.measures[index]}${again}`;
  byId("place").textContent = told;
  byId("harp-place").textContent = `${told}.`;
}

function show(isPlaying) {
  state.isPlaying = isPlaying;
  byId("play").textContent = isPlaying ? "■ Stop" : "▶ Play";
  byId("play").setAttribute("aria-pressed", String(isPlaying));
}

function stop() {
  clearTimeout(state.waiting);
  state.asked = (state.asked || 0) + 1;
  if (state.clicks) state.clicks.close();
  state.clicks = null;
  if (state.now) state.now.pause();
  show(false);
}

// The measure that was asked for; the first one where nothing was.
function wanted() {
  const text = byId("from").value.trim();
  if (!text) return state.timeline.measures[0].index;
  return content.measures.indexOf(text);
}

// A measure of clicks at the pace; then the music begins.
async function counted(index, pace) {
  const place = state.timeline.measures.findIndex((one) => one.index === index);
  const [beat, beats] = content.counts[place];
  const context = new AudioContext();
  state.clicks = context;
  await context.resume();
  const plucking = new Plucking(context);
  const begin = context.currentTime + 0.1;
  for (let i = 0; i < beats; i += 1) plucking.click(begin + (i * beat) / pace);
  return ((beats * beat) / pace + 0.02) * 1000;
}

async function play() {
  if (state.isPlaying) return stop();
  show(true);
  const asked = (state.asked = (state.asked || 0) + 1);
  try {
    const one = await listening(byId("hand").value);
    const index = wanted();
    if (index < 0 || state.timeline.measures.every((m) => m.index !== index)) {
      say(`There is no measure ${byId("from").value} that is played.`);
      byId("place").textContent = "No such measure";
      return show(false);
    }
    const pace = Number(byId("pace").value);
    one.speed(pace);
    state.now = one;
    const start = () => asked === state.asked && one.play(index, 1);
    if (!byId("count").checked) return await start();
    byId("place").textContent = "Counting in";
    const wait = await counted(index, pace);
    if (asked === state.asked) state.waiting = setTimeout(start, wait);
  } catch (error) {
    show(false);
    say(`It cannot be played: ${error.message}`);
  }
}

async function files() {
  const hands = { right: "right hand", left: "left hand", both: "both hands" };
  for (const one of content.midi) {
    const raw = await new Response(await inflated(one.packed)).arrayBuffer();
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([raw], { type: "audio/midi" }));
    link.download = one.name;
    link.textContent = `${hands[one.hand]}, ${one.percent} %`;
    const row = document.createElement("li");
    row.append(link);
    byId("midi").append(row);
  }
  document.documentElement.dataset.files = "ready";
}

byId("bar").hidden = false;
byId("play").addEventListener("click", play);
byId("hand").addEventListener("change", stop);
byId("pace").addEventListener("change", () => {
  if (state.now) state.now.speed(Number(byId("pace").value));
});
byId("print").addEventListener("click", () => window.print());
byId("files").addEventListener("toggle", () => {
  if (byId("files").open && !byId("midi").childElementCount) files();
});
