// What is set on this device alone: who holds it, and in which units it speaks.
import { tapes } from "./act-form.js";
import { remember, remembered } from "./gun-acts.js";
import { pairing } from "./ledger.js";
import { el } from "./standing.js";
import { ownSystem, useSystem } from "./units.js";
import { t } from "./texts.js";

const WORD = /^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/;

/** Who logs here, as a field of a fact; nothing until somebody says. */
export function actor() {
  const word = remembered("actor");
  return word ? { actor: word } : {};
}

export function deviceNode(redraw) {
  const input = el("input", { id: "actor", autocomplete: "off", spellcheck: "false", maxlength: "40" });
  input.value = remembered("actor") ?? "";
  input.addEventListener("change", () => {
    const word = input.value.trim();
    const good = word === "" || WORD.test(word);
    input.setAttribute("aria-invalid", String(!good));
    if (good) remember("actor", word);
  });
  const choices = [
    { value: "shop", says: t("device.as_the_shop") },
    { value: "metric", says: t("device.metric") },
    { value: "us", says: t("device.us") },
  ];
  const units = tapes(t("device.units"), choices, {
    chosen: ownSystem() ?? "shop",
    onchoose: (value) => {
      useSystem(value === undefined || value === "shop" ? null : value);
      redraw();
    },
  });
  return el(
    "details",
    { class: "sheet" },
    el("summary", {}, t("device.title", { name: pairing()?.name ?? "" })),
    el("label", { for: "actor" }, t("device.actor")),
    el("p", { class: "faded" }, t("device.actor_why")),
    input,
    units,
    el("p", {}, el("a", { class: "tape plain", href: "/pair" }, t("device.pairing"))),
  );
}
