// The wall of a shop that is set up: a board with a hook for each thing the answers need, the thing
// itself where it hangs already, its outline where it does not; and the sheet behind each hook.
import { call, inWords, may } from "./ledger.js";
import { closuresView } from "./set-up-closures.js";
import { describedView } from "./set-up-described.js";
import { drawing } from "./set-up-drawings.js";
import { readBack } from "./set-up-known.js";
import { pairedDevices, phoneView } from "./set-up-phone.js";
import { piecesView } from "./set-up-pieces.js";
import { quoteView } from "./set-up-quote.js";
import { isThere, needs, OPTIONAL, PLACES } from "./set-up-sections.js";
import { tableView } from "./set-up-table.js";
import { begin, el } from "./standing.js";
import { saidDate } from "./times.js";
import { noteShopsSystem } from "./units.js";
import { t } from "./texts.js";

const SAID_AT_MOST = 3;
let forms = {};
let known = null;
let toSay = "";

const view = () => document.querySelector("#view");
const say = (words) => (document.querySelector("#says").textContent = words);

async function readAll() {
  const [there, phone] = await Promise.all([readBack(), pairedDevices()]);
  known = { ...there, phone };
  if (known.shop[0]) noteShopsSystem(known.shop[0].units ?? "metric");
}

/** After something was recorded: read everything back, go to the wall, and say what was done. */
async function done(words) {
  await readAll();
  toSay = words;
  if (location.hash) location.hash = "";
  else draw();
}

function draw() {
  const place = location.hash.slice(1);
  say(toSay);
  toSay = "";
  if (place === "table") view().replaceChildren(sheetNode("pieces", tableView(given("piece_started")), "table"));
  else if (PLACES.includes(place)) view().replaceChildren(sheetNode(place, bodyOf(place)));
  else view().replaceChildren(wallNode());
  view().querySelector("h2")?.focus();
}

const given = (tag) => ({ spec: forms[tag], known, done });

function bodyOf(place) {
  const lacks = needs(place, known);
  if (lacks) {
    const first = el("a", { class: "tape fresh", href: `#${lacks}` }, t(`set_up.${lacks}.title`));
    return el("div", { class: "sheet" }, el("p", {}, t(`set_up.${place}.needs`)), first);
  }
  if (place === "closures") return closuresView(given());
  if (place === "pieces") return piecesView(given("piece_started"));
  if (place === "phone") return phoneView(given());
  if (place === "quote") return quoteView(given());
  return describedView(place, given(`${place}_described`));
}

function sheetNode(place, body, words = place) {
  return el(
    "section",
    { class: "behind" },
    el("p", { class: "on-screen" }, el("a", { class: "tape plain", href: "#" }, t("set_up.back"))),
    el("h2", { tabindex: "-1" }, t(`set_up.${words}.title`)),
    words === place ? el("p", {}, t(`set_up.${place}.why`)) : null,
    words === place ? el("p", { class: "faded" }, t(`set_up.${place}.depends`)) : null,
    body,
  );
}

function wallNode() {
  const next = PLACES.find((place) => !isThere(place, known) && !OPTIONAL.includes(place)) ?? "quote";
  const places = PLACES.map((place) => placeNode(place, place === next));
  return el(
    "section",
    {},
    el("h2", { class: "unseen", tabindex: "-1" }, t("set_up.wall")),
    el("p", {}, t("set_up.intro")),
    el("ul", { class: "pegs" }, places),
    el("p", { class: "faded" }, t("set_up.nothing_lost")),
  );
}

function placeNode(place, isNext) {
  const hangs = isThere(place, known);
  const state = hangs ? said(place) : t(OPTIONAL.includes(place) ? `set_up.${place}.empty` : "set_up.empty");
  return el(
    "li",
    { class: hangs ? "hangs" : "bare" },
    el(
      "a",
      { href: `#${place}`, class: "peg" },
      drawing(place),
      el("span", { class: isNext ? "label next" : "label" }, t(`set_up.${place}.title`)),
      el("span", { class: "state" }, state),
      isNext ? el("strong", { class: "state" }, t("set_up.next")) : null,
    ),
  );
}

// What hangs there, in a few words.
function said(place) {
  if (place === "shop") return t("set_up.shop.said", { zone: known.shop[0].zone, count: known.shop[0].people ?? 1 });
  const names = known[place].map((one) => one.name ?? one[place] ?? one.piece ?? saidDate(one.first_day));
  const some = names.slice(0, SAID_AT_MOST).join(", ");
  return names.length > SAID_AT_MOST ? t("set_up.and_more", { some, count: names.length - SAID_AT_MOST }) : some;
}

begin(async () => {
  if (!may("record")) {
    view().append(el("p", { class: "sheet ember" }, t("set_up.no_record")));
    return;
  }
  try {
    forms = (await call("/pages/act-forms.json", { open: true })).data;
    await readAll();
  } catch (error) {
    const again = el("button", { type: "button", class: "tape fresh", onclick: () => location.reload() }, t("set_up.again"));
    view().append(el("p", { class: "fault", role: "alert" }, inWords(error, t)), again);
    return;
  }
  addEventListener("hashchange", draw);
  draw();
});
