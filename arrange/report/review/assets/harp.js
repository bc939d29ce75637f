// The drawn harp: moves the levers of the picture.
const harp = { standing: [], start: [] };

harp.build = function build() {
  const holders = [...document.querySelectorAll(".harp-holder")];
  if (!holders.length) {
    byId("harps").hidden = true;
    return;
  }
  harp.words = holders.map((holder) => holder.querySelector(".setting"));
  harp.first = harp.words.map((words) => words.textContent);
  holders.forEach((holder, number) => {
    const standing = {};
    for (const lever of holder.querySelectorAll(".lever")) {
      const string = lever.id.slice(`lever-${number}-`.length);
      standing[string] = lever.classList.contains("up") ? "up" : "down";
    }
    harp.start.push({ ...standing });
    harp.standing.push(standing);
  });
};

harp.lever = function lever(string, position, number = 0) {
  const standing = harp.standing[number];
  const picture = byId(`lever-${number}-${string}`);
  if (!picture || standing[string] === position) return;
  standing[string] = position;
  picture.classList.remove("up", "down");
  picture.classList.add(position, "moved");
  setTimeout(() => picture.classList.remove("moved"), 900);
  harp.tell(number);
};

// Show a whole setting: one object a harp, string to position.
harp.show = function show(settings, place) {
  byId("harp-place").textContent = place;
  settings.forEach((setting, number) => {
    for (const [string, position] of Object.entries(setting)) {
      harp.lever(string, position, number);
    }
  });
};

// The same in words: what stands otherwise than at the start.
harp.tell = function tell(number) {
  const apart = Object.entries(harp.standing[number])
    .filter(([string, position]) => harp.start[number][string] !== position)
    .map(([string, position]) => `${string} ${position}`);
  harp.words[number].textContent = apart.length
    ? `${harp.first[number]} Here otherwise: ${apart.join(", ")}.`
    : harp.first[number];
};
