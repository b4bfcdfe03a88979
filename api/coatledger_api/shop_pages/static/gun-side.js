// The gun-side page: choose pieces, tap what was done, see what came of it, take it back where the
// finger already is. It works while there is no signal; what was tapped goes when it can.
import { foreseen, learn } from "./gun-acts.js";
import { actsView, defectView } from "./gun-acts-view.js";
import { afterSheet, answerFor, findingNode, ragsNode } from "./gun-after.js";
import { formView, likely, readForm } from "./gun-form.js";
import { nextFoot, tape, undoFoot } from "./gun-foot.js";
import { actor, deviceNode } from "./gun-device.js";
import { handView, hooks } from "./gun-hand.js";
import { rackOf } from "./gun-list.js";
import { logView, standingLine } from "./gun-log.js";
import { inHand, lastSeen, look, lookAt, takeInHand } from "./gun-shop.js";
import { Away, call, follow, may, Problem } from "./ledger.js";
import { openQueue } from "./queue.js";
import { begin, el } from "./standing.js";
import { saidTime } from "./times.js";
import { t } from "./texts.js";

const GUARD_MS = 700; // a second touch of the same tap is not yet an undo
const app = {
  shop: lastSeen(), queue: null, forms: {}, chosen: new Set(), view: { name: "work" },
  last: null, answer: null, guard: null, away: false, denied: false, ahead: null, extra: [],
};
const place = (id) => document.getElementById(id);

function rows() {
  return foreseen([...app.shop.rows, ...app.extra], app.queue.waiting).filter((row) => row.stage !== "shipped" || app.extra.includes(row));
}

const chosenRows = () => rows().filter((row) => app.chosen.has(row.piece));

// Asked at most once at a time, and once more when something happened meanwhile. While it asks, the
// document says so.
let timer = null;
let asking = false;
let again = false;
async function refresh() {
  clearTimeout(timer);
  timer = null;
  if (asking) {
    again = true;
    return;
  }
  asking = true;
  busy();
  try {
    app.shop = await look();
    app.away = app.denied = false;
    app.extra = app.extra.filter((row) => !app.shop.rows.some((one) => one.piece === row.piece));
    if (app.last && !app.answer) app.answer = await answerFor(app.queue.find(app.last));
  } catch (error) {
    if (!(error instanceof Away || error instanceof Problem)) throw error;
    // The head of the page says so; what was seen last stays.
    app.away = error instanceof Away;
    app.denied = error.status === 401;
  } finally {
    asking = false;
  }
  if (app.view.name === "work" || app.view.name === "hand") draw();
  if (again) soon();
  again = false;
  busy();
}

function soon() {
  clearTimeout(timer);
  timer = setTimeout(refresh, 250);
  busy();
}

const busy = () => document.documentElement.toggleAttribute("data-asking", asking || timer !== null);

function changed(entry) {
  drawHead();
  if (entry && app.last === entry.id && entry.state === "accepted" && !app.answer) soon();
  if (app.view.name === "log" || (entry && entry.id === app.last && app.view.name === "work")) draw();
}

/** A label was read: take it in hand, or choose its piece. */
async function fromLabel() {
  const [, kind, word_] = /^#(piece|lot|gun|room)=(.+)$/.exec(decodeURIComponent(location.hash)) ?? [];
  if (!kind) return;
  history.replaceState({ name: "work" }, "", location.pathname);
  if (kind !== "piece") {
    takeInHand(kind, word_);
    app.shop.hand = inHand();
    show({ name: "hand", kind });
    return;
  }
  if (!rows().some((row) => row.piece === word_)) {
    try {
      app.extra.push(await lookAt(word_));
    } catch (error) {
      place("says").textContent = error.message;
      return;
    }
  }
  app.chosen = new Set([word_]);
  app.last = null;
  show({ name: "work" });
}

function go(view) {
  history.pushState(view.name === "form" ? { name: "work" } : view, "");
  show(view);
}

function show(view) {
  app.view = view;
  draw();
  scrollTo(0, 0);
  document.querySelector("#view h2[tabindex]")?.focus({ preventScroll: true });
}

function draw() {
  const focused = document.activeElement?.dataset?.key;
  drawHead();
  drawRags();
  place("view").replaceChildren(...[VIEWS[app.view.name](app.view)].flat().filter(Boolean));
  drawFoot();
  if (focused) document.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
}

function drawHead() {
  const { queue, shop } = app;
  const away = app.away || queue.away;
  const seenAt = away && shop.seenAt ? saidTime(shop.seenAt) : null;
  const line = standingLine(queue, { away, denied: app.denied, seenAt });
  if (place("says").textContent !== line) place("says").textContent = line;
  const open = queue.waiting.length + queue.refused.length;
  place("log").textContent = open > 0 ? t("gun.log_open", { count: open }) : t("gun.log");
  place("says").parentElement.classList.toggle("ember", queue.refused.length > 0);
}

function drawRags() {
  const ways = app.forms.rags_dealt_with.fields.find((field) => field.name === "how").choices;
  const waits = app.queue.waiting.some((entry) => entry.fact.type === "rags_dealt_with");
  ragsNode(place("rags"), waits ? [] : app.shop.findings, ways, log);
}

const VIEWS = {
  work: () => [
    lastSheet(),
    hooks(app.shop, (kind) => go({ name: "hand", kind })),
    rackOf(rows(), app.chosen, onChoose),
    rows().length === 0 ? el("p", { class: "sheet" }, t(app.shop.seenAt ? "gun.no_pieces" : "gun.nothing_seen")) : null,
    quickWays(),
    shopFindings(),
  ].flat(),
  hand: ({ kind }) => handView(kind, app.shop, { log, form: (fact) => form(fact), redraw: draw }),
  acts: () => actsView(chosenRows(), (type) => (type === "defect_found" && app.chosen.size > 0 ? go({ name: "defect" }) : form({ type, ...preset(type) }))),
  defect: () => defectView(chosenRows(), faces(), (fields) => log({ type: "defect_found", pieces: [...app.chosen], ...fields })),
  log: () => [logView(app.queue, { undo, mend, drop: (entry, reason) => app.queue.drop(entry.id, reason).then(draw) }), deviceNode(draw)],
  form: (view) => formView(view, app.forms[view.fact.type], app.shop),
};

const faces = () => app.forms.defect_found.fields.find((field) => field.name === "face").choices;

function lastSheet() {
  const entry = app.last && app.queue.find(app.last);
  if (!entry) return null;
  return afterSheet(entry, app.queue, app.answer, {
    takeOut: (piece) => takeOut(entry, piece),
    settle: (finding, how) => log({ type: "finding_settled", about: finding.about, code: finding.code, how }),
  });
}

function quickWays() {
  const way = (says, onclick) => tape(says, "", onclick);
  return el("section", { "aria-label": t("gun.quick") }, el("h2", {}, t("gun.quick")), el("div", { class: "tapes wide" },
    way(t("gun.quick_defect"), () => (app.chosen.size > 0 ? go({ name: "defect" }) : form({ type: "defect_found" }))),
    way(t("gun.quick_dry"), () => form({ type: "dryness_checked", ...preset("dryness_checked") })),
    way(t("gun.quick_air"), () => form({ type: "climate_read", ...preset("climate_read") })),
    way(t("gun.quick_can"), () => go({ name: "hand", kind: "lot" })),
    way(t("gun.quick_gun"), () => go({ name: "hand", kind: "gun" })),
    way(t("gun.everything"), () => go({ name: "acts" }))));
}

function shopFindings() {
  const rest = app.shop.findings.filter((finding) => finding.code !== "rags_not_dealt_with");
  if (rest.length === 0) return null;
  return el("details", { class: "sheet" }, el("summary", {}, t("gun.open_findings", { count: rest.length })), rest.map((one) => findingNode(one)));
}

const preset = (type) => likely(app.forms[type], type, app.chosen, app.shop.hand);

function onChoose() {
  app.last = null;
  app.answer = null;
  askAhead();
  document.querySelector(".after")?.remove();
  drawFoot();
}

// What to be careful of before the tap; asked beside, since a tap never waits.
async function askAhead() {
  const [first] = app.chosen;
  app.ahead = null;
  if (!first) return;
  const answer = await call(`/v1/pieces/${encodeURIComponent(first)}`).catch(() => null);
  if (app.chosen.has(first) && answer) {
    app.ahead = answer.data;
    drawFoot();
  }
}

async function log(fact, when = {}) {
  clearTimeout(app.guard);
  app.guard = setTimeout(() => (app.guard = null), GUARD_MS);
  app.answer = null;
  learn(fact, app.shop.cans.find((can) => can.lot === fact.lot)?.product);
  const kept = app.queue.add({ source: "device", ...actor(), ...fact }, when);
  app.last = app.queue.entries.at(-1).id;
  show({ name: "work" });
  await kept;
}

async function undo(entry) {
  await app.queue.undo(entry.id);
  if (app.last === entry.id) app.last = null;
  draw();
}

async function takeOut(entry, piece) {
  const pieces = entry.fact.pieces.filter((one) => one !== piece);
  app.answer = null;
  await app.queue.amend(entry.id, { ...entry.fact, pieces });
  draw();
}

function mend(entry) {
  form(entry.fact, { of: entry });
}

function form(fact, more = {}) {
  if (!may("record")) return;
  go({ name: "form", fact, ...more });
}

function submit(view) {
  const said = readForm(view);
  if (!said) return;
  if (!view.of) {
    log(said.fact, { ago: said.ago });
    return;
  }
  app.last = view.of.id;
  app.answer = null;
  app.queue.amend(view.of.id, said.fact, "wrong_value").then(draw);
  show({ name: "work" });
}

function drawFoot() {
  const parts = FEET[app.view.name]?.() ?? [back()];
  const filled = parts.filter(Boolean);
  place("foot").replaceChildren(...filled);
  place("foot").hidden = filled.length === 0;
}

const back = () => tape(t("gun.back"), "plain", () => history.back(), "side");

const FEET = {
  form: () => [tape(t(app.view.of ? "gun.save" : "gun.log_it"), "fresh main", () => submit(app.view), "main"), back()],
  work: () => {
    const entry = app.last && app.queue.find(app.last);
    if (entry && entry.corrected !== "undone" && entry.state !== "dropped") return undoFoot(entry, { undo: () => guarded(entry), goOn });
    const some = chosenRows();
    return some.length > 0 ? nextFoot(some, app.shop, app.ahead, { form, log, other: () => go({ name: "acts" }) }) : [];
  },
};

const guarded = (entry) => app.guard === null && undo(entry);

// What was just coated dries and is let go of; what can go on stays chosen.
function goOn() {
  const { fact } = app.queue.find(app.last);
  if (fact.type === "coat_applied") for (const piece of fact.pieces) app.chosen.delete(piece);
  app.last = null;
  app.answer = null;
  askAhead();
  draw();
}

await begin(async () => {
  app.queue = await openQueue({ onChange: changed, onSent: () => refresh() });
  app.forms = await (await fetch("/pages/act-forms.json")).json();
  place("log").addEventListener("click", () => go({ name: "log" }));
  addEventListener("popstate", (event) => show(event.state ?? { name: "work" }));
  addEventListener("hashchange", fromLabel);
  show({ name: "work" });
  await refresh();
  await fromLabel();
  follow({ onEvent: () => soon(), onState: (state) => (place("says").parentElement.dataset.state = state) });
  setInterval(drawHead, 15_000);
});
