// The decisions file: its text, and how it leaves the page.
const ORDER_OF_TABLES = ["decline", "choose", "accept", "pin"];

// A basic string of TOML; JSON spells all signs alike but for two that it leaves bare.
function tomlText(text) {
  return JSON.stringify(String(text).replace(/[\u007f\ud800-\udfff]/gu, ""));
}

function tomlValue(value) {
  if (typeof value === "number") return String(Math.trunc(value));
  if (typeof value !== "object" || value === null) return tomlText(value);
  return `{ ${Object.entries(value).map(([key, inner]) => `${key} = ${tomlValue(inner)}`).join(", ")} }`;
}

function decisionsText() {
  const { format, version, source } = content.basis;
  const lines = [`format = ${tomlText(format)}`, `version = ${version}`];
  if (decided.all) lines.push("all = true");
  lines.push("", "[source]", `file = ${tomlText(source.file)}`, `sha256 = ${tomlText(source.sha256)}`);
  lines.push("", "[source.measures]");
  for (const [part, measures] of Object.entries(source.measures)) {
    lines.push(`${tomlText(part)} = ${tomlText(measures)}`);
  }
  for (const table of ORDER_OF_TABLES) {
    for (const one of decided.rows.filter((row) => row.table === table)) {
      lines.push("", `[[${table}]]`);
      for (const [key, value] of Object.entries(one.row)) lines.push(`${key} = ${tomlValue(value)}`);
    }
  }
  return `${lines.join("\n")}\n`;
}

function decisionsFileName() {
  const stem = content.basis.source.file.replace(/\.[^.]*$/, "").replace(/[^\w.-]+/g, "-");
  return `${stem || "score"}.decisions.toml`;
}

function saveDecisions() {
  const url = URL.createObjectURL(new Blob([decisionsText()], { type: "application/toml" }));
  const link = made("a", { href: url, download: decisionsFileName() });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  say(`Saved as ${decisionsFileName()}.`);
}

async function copyDecisions() {
  const area = byId("as-text");
  area.value = decisionsText();
  area.hidden = false;
  try {
    await navigator.clipboard.writeText(area.value);
    say("Copied.");
  } catch {
    area.focus();
    area.select();
    say("The text is selected; copy it from here.");
  }
}
