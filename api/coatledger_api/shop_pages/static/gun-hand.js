// What is in hand: the can, the gun and the room. Each hangs on a hook at the top of the page; taking
// one down shows what is done to it, most of it in one tap.
import { takeInHand } from "./gun-shop.js";
import { word } from "./gun-words.js";
import { el } from "./standing.js";
import { serviceNow } from "./ledger.js";
import { saidDate, saidDay, saidTime, wallClock } from "./times.js";
import { shown } from "./units.js";
import { t } from "./texts.js";

const KINDS = ["lot", "gun", "room"];
// One tap logs it for what is in hand.
const AT_ONCE = {
  lot: [{ type: "lot_opened" }, { type: "lot_stirred" }, { type: "lot_strained" }],
  gun: [
    { type: "gun_flushed", using: "water" },
    { type: "gun_flushed", using: "solvent" },
    { type: "gun_flushed", using: "cleaner" },
  ],
  room: [],
};
// These ask for something more.
const ASKED = {
  lot: ["viscosity_measured", "lot_measured", "lot_mixed", "lot_received", "lot_discarded", "lot_frozen"],
  gun: ["gun_set_up", "test_sprayed", "gun_strip_cleaned"],
  room: ["climate_read", "air_moved", "air_line_serviced", "rags_dealt_with"],
};

/** The three hooks. `onopen(kind)` takes one down. */
export function hooks(shop, onopen) {
  return el(
    "ul",
    { class: "hooks", "aria-label": t("gun.in_hand") },
    KINDS.map((kind) =>
      el(
        "li",
        {},
        el(
          "button",
          { type: "button", class: "hook", "data-key": `hook-${kind}`, onclick: () => onopen(kind) },
          el("span", { class: "faded" }, t(`gun.hook.${kind}`)),
          el("strong", {}, shop.hand[kind] ?? t("gun.none_in_hand")),
          el("span", { class: "faded" }, stateOf(kind, shop)),
        ),
      ),
    ),
  );
}

function stateOf(kind, shop) {
  const one = rowOf(kind, shop.hand[kind], shop);
  if (!one) return "";
  if (kind === "lot") return one.left_l === null ? "" : t("gun.left", { left: shown(one.left_l, "l") });
  if (kind === "gun") return t(one.flush_due ? "gun.to_flush" : "gun.clean");
  if (!one.air) return t("gun.unread");
  return `${shown(one.air.air_c, "c")}, ${shown(one.air.rh_pct, "pct")}`;
}

function rowOf(kind, wanted, shop) {
  return rowsOf(kind, shop).find((row) => row[kind] === wanted);
}

function rowsOf(kind, shop) {
  return { lot: shop.cans, gun: shop.guns, room: shop.rooms }[kind];
}

/** The page of one hook: which one is in hand, and what is done to it. */
export function handView(kind, shop, actions) {
  const rows = rowsOf(kind, shop).filter((row) => !row.unusable || row[kind] === shop.hand[kind]);
  const hand = shop.hand[kind];
  const take = (one) => {
    takeInHand(kind, one);
    shop.hand[kind] = one;
    actions.redraw();
  };
  const other = rows.filter((row) => row[kind] !== hand);
  const held = rows.find((row) => row[kind] === hand);
  return el(
    "section",
    {},
    el("h2", { tabindex: "-1" }, hand ? t(`gun.done_to.${kind}`, { what: hand }) : t(`gun.hook.${kind}`)),
    held ? el("p", { class: "faded" }, describe(kind, held)) : null,
    hand ? el("div", { class: "tapes wide" }, AT_ONCE[kind].map((fact) => atOnce(kind, fact, hand, actions))) : null,
    el("div", { class: "tapes wide" }, ASKED[kind].map((type) => asked(kind, type, hand, actions))),
    other.length > 0 ? el("h3", {}, t(`gun.choose.${kind}`)) : null,
    el(
      "div",
      { class: "tapes rows" },
      other.map((row) =>
        el(
          "button",
          { type: "button", class: "tape", "data-key": `take-${row[kind]}`, onclick: () => take(row[kind]) },
          el("span", {}, el("strong", {}, row[kind]), " ", el("small", {}, describe(kind, row))),
        ),
      ),
    ),
  );
}

// A pot's hour or a can's day, whichever is near; a year only when it is another one.
function until(iso) {
  const near = Math.abs(Date.parse(iso) - serviceNow()) < 3 * 86_400_000;
  return near ? saidTime(iso) : saidDate(wallClock(iso).day);
}

function describe(kind, row) {
  if (kind === "lot") {
    const left = row.left_l === null || row.left_l === undefined ? null : shown(row.left_l, "l");
    const opened = row.opened_at ? t("gun.opened", { at: saidDay(wallClock(row.opened_at).day) }) : t("gun.unopened");
    const ends = row.usable_until ? t("gun.use_until", { at: until(row.usable_until) }) : null;
    return [row.product, left, opened, ends, row.unusable].filter(Boolean).join(" · ");
  }
  if (kind === "gun") {
    const inside = row.lot ? t("gun.holds", { lot: row.lot }) : null;
    const due = row.strip_clean_overdue ? t("gun.strip_due") : null;
    return [row.name, row.method && word(row.method), inside, t(row.flush_due ? "gun.to_flush" : "gun.clean"), due]
      .filter(Boolean)
      .join(" · ");
  }
  const air = row.air
    ? `${shown(row.air.air_c, "c")}, ${shown(row.air.rh_pct, "pct")}, ${saidTime(row.air.read_at)}`
    : t("gun.unread");
  return [row.name, air, row.in_range === false ? t("gun.out_of_band") : null].filter(Boolean).join(" · ");
}

function atOnce(kind, fact, hand, actions) {
  const says = fact.using ? t(`gun.flush.${fact.using}`) : t(`gun.do.${fact.type}`);
  return el("button", { type: "button", class: "tape fresh", onclick: () => actions.log({ ...fact, [kind]: hand }) }, says);
}

function asked(kind, type, hand, actions) {
  const bare = type === "lot_received" || type === "lot_mixed";
  const fact = { type, ...(hand && !bare ? { [kind]: hand } : {}) };
  if (type === "lot_mixed" && hand) fact.parents = [{ lot: hand, part: "base" }, {}];
  return el("button", { type: "button", class: "tape", onclick: () => actions.form(fact) }, t(`gun.do.${type}`));
}
