// An act that wants more than a tap: its form, filled with what is likely, and what was said in it.
import { buildForm } from "./act-form.js";
import { remembered } from "./gun-acts.js";
import { doing } from "./gun-words.js";
import { el } from "./standing.js";
import { t, tOr } from "./texts.js";
import { whenNode } from "./when.js";

// Asked at once and in this order; the rest stands below.
const FIRST = {
  sanded: ["stage", "grit"], blown_off: ["by"], coat_applied: ["lot", "gun", "room", "role", "wet_film_um"],
  packed: ["touching"], rework_started: ["remedy", "because"], dryness_checked: ["stage", "ready", "face"],
  inspected: ["point", "passed", "lighting"], moved: ["room", "place"], stained: ["lot", "binder"],
  grain_filled: ["lot"], gun_set_up: ["gun", "lot", "nozzle_mm", "cap_pressure_kpa"], shipped: ["order", "carrier"],
  test_sprayed: ["gun", "lot", "result"], lot_discarded: ["lot", "why"], gun_flushed: ["gun", "using"],
  held: ["why"], rubbed_out: ["grit"], air_line_serviced: ["drained", "filter_changed"],
  lot_strained: ["lot"], gun_strip_cleaned: ["gun", "using"], turned: ["resting_on"],
};

/** The form of an act, kept in its view so that what was typed outlives a redraw. */
export function formView(view, spec, shop) {
  const { fact, of } = view;
  const known = {
    lot: shop.cans.map((can) => can.lot),
    gun: shop.guns.map((one) => one.gun),
    room: shop.rooms.map((one) => one.room),
    product: [...new Set(shop.cans.map((can) => can.product))].filter(Boolean),
  };
  view.built ??= buildForm(spec, { fact, first: FIRST[fact.type] ?? [], known });
  view.when ??= whenNode(of ? of.fact.occurred_at : null);
  view.faults ??= el("div", { role: "alert", class: "fault" });
  return el(
    "section",
    {},
    el("h2", { tabindex: "-1" }, doing({ type: fact.type })),
    of?.problem ? el("p", { class: "fault" }, of.problem.detail) : null,
    view.built.node,
    view.when.node,
    view.faults,
  );
}

/** What the form says: {fact, ago}; null, with its faults shown, when it cannot be so. */
export function readForm(view) {
  const { fact, faults } = view.built.read();
  if (faults.length > 0) {
    const lines = faults.map(([name, says]) => el("p", {}, `${tOr(`fields.${name}`, name)}: ${says}`));
    view.faults.replaceChildren(...lines);
    view.faults.scrollIntoView({ block: "center" });
    return null;
  }
  const { ago, at } = view.when.read();
  if (!view.of) return { fact, ago };
  return { fact: { ...fact, occurred_at: at ?? view.of.fact.occurred_at }, ago };
}

/** What is likely in a form, from what is chosen and in hand. */
export function likely(spec, type, chosen, hand) {
  const has = (name) => spec.fields.some((field) => field.name === name);
  const found = has("pieces") && chosen.size > 0 ? { pieces: [...chosen] } : {};
  for (const kind of ["lot", "gun", "room"]) {
    if (has(kind)) found[kind] = hand[kind] ?? remembered(`${type}.${kind}`) ?? undefined;
  }
  return found;
}
