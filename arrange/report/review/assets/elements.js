// What the other parts share: finding and making elements, unpacking contents.
const byId = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
const content = JSON.parse(byId("content").textContent);
const isReview = content.kind === "review";

// An element with attributes, texts and elements in it; texts never become markup.
function made(tag, attributes, ...within) {
  const element = document.createElement(tag);
  return filled(element, attributes, within);
}

function drawnElement(tag, attributes, ...within) {
  return filled(document.createElementNS(SVG, tag), attributes, within);
}

function filled(element, attributes, within) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name === "onclick") element.addEventListener("click", value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, value);
    }
  }
  element.append(...within.filter((piece) => piece !== null && piece !== ""));
  return element;
}

// Text that was deflated and written in base64.
async function unpacked(base64) {
  const bytes = Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Response(stream).text();
}

function counted(number, one, many) {
  return `${number} ${number === 1 ? one : many || `${one}s`}`;
}

// For those who listen to the page; every message is told, even the same one twice.
function say(text) {
  const told = byId("said");
  told.textContent = told.textContent === text ? `${text} ` : text;
}

// What the page remembers between visits; a browser may forbid it.
const memory = {
  read(key) {
    try {
      return JSON.parse(localStorage.getItem(key));
    } catch {
      return null;
    }
  },
  write(key, value) {
    try {
      localStorage.setItem(key, JSON.stringify(value));
      return true;
    } catch {
      return false;
    }
  },
};

function columnOfNumber(text) {
  const wanted = text.trim();
  return content.columns.findIndex((column) => column[0] === wanted);
}

const numberOf = (column) => (content.columns[column] ? content.columns[column][0] : "");
const shortened = (text, most) => (text.length > most ? `${text.slice(0, most - 1)}…` : text);
