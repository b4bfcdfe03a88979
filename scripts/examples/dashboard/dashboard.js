// Asks each question of the ledger twice: its numbers, said in words, and its picture. The browser
// keeps both and asks with their entity tags, so what has not changed is not sent again.
import { QUESTIONS } from "./questions.js";

const AGAIN_MS = 5 * 60_000;
const WIDTHS = [320, 480, 720];
const form = document.getElementById("asked");
const standing = document.getElementById("standing");
const drawn = new Map(); // the addresses of pictures in this page, to be given up
let turn = 0;
let last = null;

function asked(question) {
  const chosen = new FormData(form);
  const query = new URLSearchParams(question.also ?? {});
  if (question.takes?.includes("weeks")) query.set("first_week", weekBefore(Number(chosen.get("weeks")) - 1));
  if (question.takes?.includes("by")) query.set("by", chosen.get("by"));
  return query;
}

// The ISO 8601 week so many weeks ago: a week belongs to the year of its Thursday.
function weekBefore(weeks) {
  const day = new Date();
  const thursday = new Date(Date.UTC(day.getFullYear(), day.getMonth(), day.getDate() - 7 * weeks));
  thursday.setUTCDate(thursday.getUTCDate() + 4 - (thursday.getUTCDay() || 7));
  const first = Date.UTC(thursday.getUTCFullYear(), 0, 1);
  const number = Math.ceil(((thursday - first) / 86_400_000 + 1) / 7);
  return `${thursday.getUTCFullYear()}-W${String(number).padStart(2, "0")}`;
}

function look() {
  const chosen = new FormData(form).get("look");
  if (chosen) return chosen;
  if (matchMedia("(prefers-contrast: more)").matches) return "contrast";
  return matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
}

async function ask(path, query) {
  const answer = await fetch(`ask${path}?${query}`);
  if (answer.ok) return answer;
  const problem = await answer.json().catch(() => ({}));
  throw new Error(problem.detail ?? problem.title ?? `the service answered ${answer.status}`);
}

function made(tag, content = [], attributes = {}) {
  const element = document.createElement(tag);
  element.append(...[content].flat());
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

const sentence = (said) => Array.isArray(said) ? made("ul", said.map((one) => made("li", one))) : made("p", said);

// A picture says in words what it shows; those words become the alternative of the image.
async function picture(question, query, section) {
  const room = section.clientWidth;
  const width = WIDTHS.findLast((one) => one <= room) ?? WIDTHS[0];
  const answer = await ask(question.path, new URLSearchParams([...query, ["format", "svg"],
    ["look", look()], ["width", width]]));
  const text = await answer.text();
  const alt = new DOMParser().parseFromString(text, "image/svg+xml").querySelector("desc")?.textContent ?? "";
  const url = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  URL.revokeObjectURL(drawn.get(question.id));
  drawn.set(question.id, url);
  const image = made("img", [], { src: url, alt });
  await image.decode();
  return made("figure", image);
}

function links(question, query) {
  const to = (format) => `ask${question.path}?${new URLSearchParams([...query, ["format", format]])}`;
  return made("p", ["The same numbers: ", made("a", "as a table", { href: to("html") }), " ",
    made("a", "as CSV", { href: to("csv"), download: `${question.id}.csv` })], { class: "more" });
}

async function answer(question, now) {
  const section = document.getElementById(question.id);
  const query = asked(question);
  const parts = [];
  try {
    const told = await (await ask(question.path, query)).json();
    parts.push(...question.says(told).map(sentence));
    if (question.path !== "/v1/promises") {
      parts.push(await picture(question, query, section).catch((fault) =>
        made("p", `Without its picture: ${fault.message}.`, { class: "more" })), links(question, query));
    }
    if (now === turn) section.replaceChildren(section.firstChild, ...parts);
    return true;
  } catch (fault) {
    // What stood there stays: old numbers with their time are better than none.
    if (now === turn && section.childElementCount === 1) {
      section.append(made("p", `Not answered: ${fault.message}.`, { class: "fault" }));
    }
    return false;
  }
}

async function show() {
  turn += 1;
  const now = turn;
  const all = [];
  for (const question of QUESTIONS) all.push(await answer(question, now));
  if (now !== turn) return;
  const whole = all.every(Boolean);
  if (whole) last = new Date();
  const time = last?.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  standing.textContent = whole ? `As the ledger stood at ${time}; read again every five minutes.`
    : `Not everything was answered. ${time ? `What stands below may be of ${time}.` : "Is the service running?"}`;
  standing.classList.toggle("away", !whole);
  document.documentElement.dataset.ready = "";
}

for (const question of QUESTIONS) {
  const heading = made("h2", question.asks, { id: `${question.id}-asks` });
  document.getElementById("questions").append(
    made("section", heading, { id: question.id, "aria-labelledby": heading.id }));
}
for (const [name, value] of new URLSearchParams(location.search)) {
  if (form.elements[name]) form.elements[name].value = value;
}
form.addEventListener("change", () => {
  history.replaceState(null, "", `?${new URLSearchParams(new FormData(form))}`);
  show();
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
setInterval(show, AGAIN_MS);
show();
