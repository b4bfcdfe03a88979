// The rack seen from the front: a place for each batch that dries, with a dial that fills toward the
// next moment at which something more may be done with it.
import { el, svg } from "./standing.js";
import { saidDay, saidTime, wallClock } from "./times.js";
import { word } from "./gun-words.js";
import { t } from "./texts.js";

const PLACES = 12; // what can be read from three metres; the rest is said in a line
const FEW = 6;
const DAY_MS = 86_400_000; // a range wider than a day is told in days
const ORDER = ["wet", "touch_dry", "tack_free", "sandable", "stackable", "wrap_safe", "cured"];

/** Draw the rack of what dries, the soonest first. */
export function rackNode(clocks, nowMs) {
  const places = placesOf(clocks, nowMs);
  if (places.length === 0) return el("p", { class: "free" }, t("wall.rack_free"));
  // What only cures is not waited for at the rack; it has a place where there is room.
  const near = places.filter((one) => one.next.stage !== "cured");
  const shown = (near.length >= FEW ? near : places.slice(0, FEW)).slice(0, PLACES);
  const rest = places.filter((one) => !shown.includes(one));
  return el(
    "div",
    {},
    el("ul", { class: "places", "data-many": shown.length > FEW ? "yes" : "no" }, shown.map((one) => placeNode(one, nowMs))),
    rest.length > 0 ? restNode(rest) : null,
  );
}

/** What was coated together and is as dry stands in one place. */
export function placesOf(clocks, nowMs) {
  const places = new Map();
  for (const clock of clocks) {
    const face = slowest(clock.faces);
    const next = face?.stages.find((one) => Date.parse(one.sure) > nowMs);
    if (!next) continue;
    const key = `${face.coat} ${next.stage} ${face.readiness}`;
    const place = places.get(key) ?? { pieces: [], face, next: { ...next }, from: face.applied_at };
    place.pieces.push(clock.piece);
    place.next.earliest = least(place.next.earliest, next.earliest);
    place.next.likely = most(place.next.likely, next.likely);
    place.next.sure = most(place.next.sure, next.sure);
    places.set(key, place);
  }
  return [...places.values()].sort((a, b) => Date.parse(a.next.likely) - Date.parse(b.next.likely));
}

const least = (a, b) => (Date.parse(a) <= Date.parse(b) ? a : b);
const most = (a, b) => (Date.parse(a) >= Date.parse(b) ? a : b);

// The face that holds the piece up: the least dry, then the one coated last.
function slowest(faces) {
  const rank = (face) => ORDER.indexOf(face.readiness);
  return [...faces].sort(
    (a, b) => rank(a) - rank(b) || Date.parse(b.applied_at) - Date.parse(a.applied_at),
  )[0];
}

function placeNode(place, nowMs) {
  const { next, face } = place;
  const texture = `film film-${(face.readiness ?? "wet").replace("_", "-")}`;
  return el(
    "li",
    { class: "place" },
    dial(place, nowMs),
    el(
      "div",
      { class: "place-says" },
      el("h3", {}, named(place.pieces)),
      el("p", {}, el("span", { class: `swatch ${texture}`, "aria-hidden": "true" }), isNow(face)),
      el("p", { class: "next number" }, nextSaid(next, nowMs)),
    ),
  );
}

function isNow(face) {
  return t("wall.is_now", { coat: face.coat_number, dry: word(face.readiness) });
}

function nextSaid(next, nowMs) {
  const wide = Date.parse(next.sure) - Date.parse(next.earliest) > DAY_MS;
  const said = wide ? (iso) => saidDay(wallClock(iso).day) : saidTime;
  const values = {
    stage: word(next.stage),
    earliest: said(next.earliest),
    likely: said(next.likely),
    sure: said(next.sure),
  };
  return t(Date.parse(next.earliest) <= nowMs ? "wall.may_be" : "wall.will_be", values);
}

/** "BT-28-1 … 6": pieces of one batch, shortly, with how many they are. */
export function named(given) {
  const pieces = [...given].sort((a, b) => a.localeCompare(b, "en", { numeric: true }));
  const [first] = pieces;
  if (pieces.length === 1) return first;
  const stem = first.replace(/\d+$/, "");
  const alike = pieces.every((one) => one.startsWith(stem) && /^\d+$/.test(one.slice(stem.length)));
  const last = alike ? pieces.at(-1).slice(stem.length) : pieces.at(-1);
  return t("wall.batch", { first, last, count: pieces.length });
}

// Once around is from the coat to the sure time; hatched is from the earliest to the sure one.
function dial({ from, next }, nowMs) {
  const start = Date.parse(from);
  const whole = Math.max(1, Date.parse(next.sure) - start);
  const part = (ms) => Math.min(1, Math.max(0, (ms - start) / whole));
  const [now, earliest, likely] = [nowMs, Date.parse(next.earliest), Date.parse(next.likely)].map(part);
  const face = svg("svg", { viewBox: "-60 -60 120 120", class: "dial", "aria-hidden": "true", focusable: "false" });
  face.append(svg("circle", { r: 57, class: "dial-rim" }));
  face.append(svg("path", { d: wedge(0, now, 52), class: "dial-done" }));
  face.append(svg("path", { d: ring(earliest, 1, 52, 41), class: "dial-range" }));
  const [x, y] = at(likely, 57);
  const [u, v] = at(likely, 36);
  face.append(svg("line", { x1: x, y1: y, x2: u, y2: v, class: "dial-likely" }));
  const [a, b] = at(now, 50);
  face.append(svg("line", { x1: 0, y1: 0, x2: a, y2: b, class: "dial-hand" }), svg("circle", { r: 4, class: "dial-pin" }));
  return face;
}

function at(part, radius) {
  const angle = part * 2 * Math.PI;
  return [(Math.sin(angle) * radius).toFixed(2), (-Math.cos(angle) * radius).toFixed(2)];
}

function wedge(from, to, radius) {
  const end = Math.min(to, 0.9999);
  const [[a, b], [c, d]] = [at(from, radius), at(end, radius)];
  return `M0 0L${a} ${b}A${radius} ${radius} 0 ${end - from > 0.5 ? 1 : 0} 1 ${c} ${d}Z`;
}

function ring(from, to, outer, inner) {
  const end = Math.min(to, from + 0.9999);
  const wide = end - from > 0.5 ? 1 : 0;
  const [[a, b], [c, d], [e, f], [g, h]] = [at(from, outer), at(end, outer), at(end, inner), at(from, inner)];
  return `M${a} ${b}A${outer} ${outer} 0 ${wide} 1 ${c} ${d}L${e} ${f}A${inner} ${inner} 0 ${wide} 0 ${g} ${h}Z`;
}

// Beyond what can be read: how many wait for what, and when the first of them is ready.
function restNode(places) {
  const byStage = new Map();
  for (const place of places) {
    const sum = byStage.get(place.next.stage) ?? { count: 0, first: place.next.likely };
    sum.count += place.pieces.length;
    byStage.set(place.next.stage, sum);
  }
  return el(
    "ul",
    { class: "rest" },
    [...byStage].map(([stage, { count, first }]) =>
      el("li", {}, t("wall.rest", { count, stage: word(stage), likely: saidTime(first) })),
    ),
  );
}
