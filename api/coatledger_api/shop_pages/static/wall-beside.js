// What stands beside the rack: what may be touched, the day's work with now marked, the air of each
// room against its limits, guns and what is in them, promises in danger, and what burns.
import { serviceNow } from "./ledger.js";
import { el, svg } from "./standing.js";
import { batches, shelfOf } from "./gun-shop.js";
import { nextSaid } from "./gun-list.js";
import { saidPieces, word } from "./gun-words.js";
import { saidDay, saidTime } from "./times.js";
import { shown } from "./units.js";
import { t, tOr } from "./texts.js";
import { named } from "./wall-rack.js";

const TOUCH = 5;
const LINES = 7;
const DANGERS = 3;
const BURNS = /rag/;

/** What may be worked on this minute, a line a batch. */
export function touchNode(rows) {
  const ready = batches(rows).filter((batch) => shelfOf(batch[0]) === "now");
  if (ready.length === 0) return el("p", {}, t("wall.touch_nothing"));
  return el("ul", { class: "lines" }, [
    ...ready.slice(0, TOUCH).map((batch) =>
      el("li", {}, el("strong", {}, nextSaid(batch[0])), " ", el("span", {}, saidPieces(batch)))),
    more(ready.length - TOUCH),
  ]);
}

/** Today's lines from the one that runs now, with a mark where now is. */
export function todayNode(plan, nowMs) {
  const day = plan.days?.[0];
  if (!day?.lines?.length) return el("p", {}, t("wall.today_nothing"));
  const rest = gathered(day.lines).filter((line) => Date.parse(line.ends) > nowMs);
  if (rest.length === 0) return el("p", {}, t("wall.today_done"));
  const node = el("ol", { class: "lines plan" });
  let marked = false;
  for (const line of rest.slice(0, LINES)) {
    const runs = Date.parse(line.begins) <= nowMs;
    if (!marked && !runs) {
      node.append(el("li", { class: "now-mark" }, t("wall.now_mark")));
      marked = true;
    }
    node.append(
      el("li", { class: runs ? "runs" : null },
        el("span", { class: "at number" }, saidTime(line.begins)),
        el("span", {}, [line.says, line.pieces?.length ? named(line.pieces) : line.gun].filter(Boolean).join(" · "))),
    );
  }
  node.append(...[more(rest.length - LINES), pickUp(day, nowMs)].filter(Boolean));
  return node;
}

// The same act said of several small lots one after another is one line to read.
function gathered(lines) {
  const found = [];
  for (const line of lines) {
    const like = found.find((one) => one.act === line.act && one.says === line.says && one.gun === line.gun &&
      Date.parse(line.begins) - Date.parse(one.ends) < 20 * 60_000);
    if (like) {
      like.pieces = [...(like.pieces ?? []), ...(line.pieces ?? [])];
      like.ends = line.ends;
    } else {
      found.push({ ...line });
    }
  }
  return found;
}

function pickUp(day, nowMs) {
  if (!day.pick_up_at || Date.parse(day.pick_up_at) < nowMs) return null;
  return el("li", { class: "leaves" }, el("span", { class: "at number" }, saidTime(day.pick_up_at)), el("span", {}, t("wall.pick_up")));
}

function more(count) {
  return count > 0 ? el("li", { class: "faded" }, t("wall.more", { count })) : null;
}

/** A strip a room: warmth and humidity, and whether they are within its limits. */
export function airNodes(rooms) {
  return rooms.filter((one) => one.air).map((one) => {
    const { air } = one;
    const range = one.in_range === undefined ? "" : t(one.in_range ? "wall.in_range" : "wall.out_of_range");
    const said = [shown(air.air_c, "c"), shown(air.rh_pct, "pct")].join(" · ");
    const age = air.stale ? t("wall.air_old", { at: saidTime(air.read_at) }) : null;
    const wrong = one.in_range === false || air.stale;
    return el("li", { class: wrong ? "wrong" : null },
      el("strong", {}, one.name ?? one.room), " ", el("span", { class: "number" }, said), " ",
      el("span", {}, [range, age].filter(Boolean).join(", ")));
  });
}

/** Each gun with what is in it and what is due. */
export function gunsNode(guns, products) {
  if (guns.length === 0) return null;
  const cans = new Map(products.flatMap((one) => one.cans ?? []).map((can) => [can.lot, can]));
  return el("ul", { class: "lines" }, guns.map((gun) => {
    const can = cans.get(gun.lot);
    const due = ["flush_overdue", "strip_clean_overdue"].filter((name) => gun[name]).map((name) => t(`wall.${name}`));
    const holds = gun.lot ? t("wall.holds", { lot: gun.lot }) : t("wall.gun_empty");
    const left = can?.left_l === null || can?.left_l === undefined ? null : t("wall.left", { left: shown(can.left_l, "l") });
    const until = can?.unusable ? word(can.unusable) : potEnds(can);
    return el("li", {}, el("strong", {}, gun.gun), " ", [holds, left, until].filter(Boolean).join(" · "),
      due.length ? el("span", { class: "due" }, ` ${due.join(", ")}`) : null);
  }));
}

// A use-by date years away is no news on a wall; a pot that sets today is.
function potEnds(can) {
  const ends = Date.parse(can?.usable_until ?? "");
  return ends - serviceNow() < 2 * 86_400_000 ? t("wall.use_until", { until: saidTime(can.usable_until) }) : null;
}

/** Promises that are likely to be missed, with why. */
export function dangerNode(promises) {
  const danger = promises.filter((one) => one.in_danger);
  if (danger.length === 0) return null;
  return el("ul", { class: "lines" }, [
    ...danger.slice(0, DANGERS).map((one) =>
      el("li", {},
        el("strong", {}, t("wall.told", { order: one.order, day: saidDay(one.latest.ships_by) })), " ",
        el("span", {}, saidChance(one.chance)), one.likely ? el("span", {}, `; ${t("wall.likely", { day: saidDay(one.likely) })}`) : null,
        one.because?.[0] ? el("span", { class: "faded" }, ` ${one.because[0]}`) : null)),
    more(danger.length - DANGERS),
  ]);
}

/** A chance in words no finer than it is known. */
export function saidChance(chance) {
  if (chance < 0.05) return t("wall.chance_hardly");
  if (chance > 0.95) return t("wall.chance_nearly");
  return t("wall.chance", { tenths: Math.round(chance * 10) });
}

/** Rags and whatever else cannot wait stand first. */
export function burningNode(findings) {
  const burning = findings.filter((one) => BURNS.test(one.code));
  if (burning.length === 0) return null;
  return el("div", {}, burning.map((one) =>
    el("p", {}, svgFlame(), el("strong", {}, tOr(`findings.${one.code}`, one.code)), " ", one.what_to_do)));
}

function svgFlame() {
  const flame = svg("svg", { viewBox: "0 0 24 24", class: "flame", "aria-hidden": "true", focusable: "false" });
  flame.append(svg("path", { d: "M12 2c2 4 6 6 6 12a6 6 0 0 1-12 0c0-3 2-4 3-6 1 2 2 2 3 3 1-3 0-6 0-9z" }));
  return flame;
}
