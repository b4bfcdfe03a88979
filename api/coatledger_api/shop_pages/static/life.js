// The life of one piece: how it stands, its film drawn, what was found, and every act in words.
import { begin, el } from "./standing.js";
import { call, inWords, may } from "./ledger.js";
import { details, done, word } from "./gun-words.js";
import { pieces } from "./gun-shop.js";
import { saidDay, saidTime, wallClock } from "./times.js";
import { t, tOr } from "./texts.js";

const DAY_MS = 86_400_000;
const TROUBLE = new Set(["defect_found", "rework_started", "damage_reported", "returned", "scrapped", "held"]);
const FILM = new Set(["coat_applied", "stained", "grain_filled"]);
const place = (id) => document.getElementById(id);

begin(async () => {
  const form = place("find");
  form.hidden = false;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    location.hash = `piece=${encodeURIComponent(place("word").value.trim())}`;
  });
  addEventListener("hashchange", show);
  offer();
  await show();
});

async function offer() {
  try {
    place("words").append(...(await pieces()).map((row) => el("option", { value: row.piece })));
  } catch {
    // the word can be typed as well
  }
}

const wanted = () => new URLSearchParams(location.hash.slice(1)).get("piece");

async function show() {
  const piece = wanted();
  place("told").hidden = true;
  place("says").textContent = piece ? t("life.asking") : "";
  if (!piece) return;
  const at = `/v1/pieces/${encodeURIComponent(piece)}`;
  try {
    const [told, history, drawn] = await Promise.all([
      call(at), call(`${at}/history`), call(`${at}/drawing`, { headers: { Accept: "image/svg+xml" } }),
    ]);
    if (piece !== wanted()) return; // another one was asked for meanwhile
    draw(told.data, history.data, picture(drawn.data));
    place("says").textContent = "";
  } catch (error) {
    if (piece === wanted()) place("says").textContent = inWords(error, t);
  }
}

function draw(told, history, drawn) {
  document.title = `${told.piece}: ${t("pages.life")}`;
  place("piece").textContent = told.piece;
  const { facts } = told;
  place("is").textContent = [facts.kind, facts.species && word(facts.species), told.order].filter(Boolean).join(" · ");
  place("stands").replaceChildren(...standsNodes(told));
  place("film").replaceChildren(drawn.querySelector(".wood") ? drawn : el("p", {}, t("life.no_film")));
  place("findings-of").hidden = !told.findings?.length;
  place("findings").replaceChildren(...(told.findings ?? []).map(findingNode));
  place("acts").replaceChildren(...actNodes(history.entries));
  place("proof").replaceChildren(...proofNodes(told.piece));
  place("told").hidden = false;
}

// The service's own drawing; it holds no script, and is taken in as a tree, not as markup.
function picture(text) {
  const svg = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return document.importNode(svg, true);
}

function standsNodes(told) {
  const coats = told.coats_wanted ? t("gun.coats", { done: told.coats_done, wanted: told.coats_wanted }) : null;
  const line = [word(told.stage), coats, told.held ? t("gun.held") : null].filter(Boolean).join(" · ");
  const next = told.next?.act ? t("life.next", { act: tOr(`gun.step.${told.next.act}`, told.next.act) }) : null;
  const promised = told.promised ? t("life.promised", { day: saidDay(told.promised) }) : null;
  return [
    el("p", {}, el("strong", {}, line)),
    next ? el("p", {}, next) : null,
    promised ? el("p", {}, promised) : null,
    ...(told.clock?.faces ?? []).map(faceNode),
  ].filter(Boolean);
}

function faceNode(face) {
  return el("div", {},
    el("h3", {}, t("life.face", { faces: face.faces.map(word).join(", "), coat: face.coat_number })),
    el("ul", { class: "stages" }, face.stages.map((stage) =>
      el("li", {},
        el("span", { class: `swatch film film-${stage.stage.replace("_", "-")}`, "aria-hidden": "true" }),
        t("life.stage", { stage: word(stage.stage), range: range(stage) })))));
}

// A range wider than a day is told in days: nobody knows the minute a film is cured.
function range({ earliest, likely, sure }) {
  const wide = Date.parse(sure) - Date.parse(earliest) > DAY_MS;
  const said = wide ? (iso) => saidDay(wallClock(iso).day) : saidTime;
  return t("times.range", { earliest: said(earliest), likely: said(likely), sure: said(sure) });
}

function findingNode(one) {
  const seen = (one.seen ?? []).map((what) => what.says).join("; ");
  return el("p", {}, el("strong", {}, tOr(`findings.${one.code}`, one.code)), ` ${seen}. `, one.what_to_do);
}

function actNodes(entries) {
  const nodes = [];
  let last = null;
  for (const entry of entries) {
    const { day, time } = wallClock(entry.occurred_at);
    if (day !== last) nodes.push(el("li", { class: "day" }, saidDay(day)));
    last = day;
    nodes.push(actNode(entry, time));
  }
  return nodes;
}

function actNode(entry, time) {
  const { type } = entry;
  const kind = TROUBLE.has(type) || (type === "inspected" && !entry.fact.passed) ? "trouble" : FILM.has(type) ? "coat" : null;
  const gone = entry.standing === "voided" || entry.standing === "amended";
  const notes = [
    entry.standing === "stands" ? null : t(`life.standing.${entry.standing}`),
    lateMinutes(entry) >= 120 ? t("life.late") : null,
    entry.note,
  ].filter(Boolean);
  return el("li", { class: kind },
    el("span", { class: "at number" }, time),
    el("span", { class: gone ? "gone" : null }, el("strong", {}, done(entry.fact)), " ", details(entry.fact)),
    notes.length ? el("span", { class: "faded" }, ` (${notes.join("; ")})`) : null);
}

const lateMinutes = (entry) => (Date.parse(entry.recorded_at) - Date.parse(entry.occurred_at)) / 60_000;

function proofNodes(piece) {
  const says = el("p", {}, t("life.proof_says"));
  if (!may("audit")) return [says, el("p", { class: "faded" }, t("life.proof_elsewhere", { piece }))];
  const button = el("button", { type: "button", class: "tape" }, t("life.proof_get"));
  button.addEventListener("click", () => keepProof(piece, button));
  return [says, button];
}

// The pack is kept byte for byte as it came: written anew it would no longer hold.
async function keepProof(piece, button) {
  button.disabled = true;
  try {
    const { data } = await call(`/v1/pieces/${encodeURIComponent(piece)}/proof`, { as: "blob", timeoutMs: 60_000 });
    const link = el("a", { href: URL.createObjectURL(data), download: `${piece}.proof.json` });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  } catch (error) {
    place("says").textContent = inWords(error, t);
  } finally {
    button.disabled = false;
  }
}
