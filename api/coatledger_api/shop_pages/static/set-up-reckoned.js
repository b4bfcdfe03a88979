// What a finish is reckoned with at its sheet's own climate: the hours the sheet gives, and what
// stands in where it is silent, named as what it is. The service itself is asked, so it cannot differ.
import { call } from "./ledger.js";
import { el } from "./standing.js";
import { shown } from "./units.js";
import { t, tOr } from "./texts.js";

const ASKED = ["touch_dry_h", "tack_free_h", "recoat_h", "stack_h", "wrap_h", "cure_h", "mfft_c",
  "reference_air_c", "reference_rh_pct", "reference_wet_film_um"];
// As clocks/sheets.py has it where a sheet is silent: common practice, no published source.
const FILM_UM = { water_borne: 100, lacquer: 100, oil_based: 75 };
const REST_MS = 400;

/** A table beside a finish's form that follows what is typed. */
export function reckonedWith(form) {
  const body = el("tbody", {});
  const says = el("p", { class: "faded" }, t("set_up.product.reckoned_first"));
  const table = el(
    "table",
    { class: "reckoned", hidden: true },
    el("caption", {}, t("set_up.product.reckoned")),
    el("tbody", {}),
  );
  table.replaceChild(body, table.tBodies[0]);
  let timer = null;
  const ask = async () => {
    const { fact } = form.read();
    if (!fact.kind) return;
    const given = Object.fromEntries(ASKED.filter((name) => fact[name] !== undefined).map((name) => [name, fact[name]]));
    const film = fact.reference_wet_film_um ?? FILM_UM[fact.kind];
    const air_c = fact.reference_air_c ?? 21;
    const rh_pct = fact.reference_rh_pct ?? 50;
    const asked = { ...given, kind: fact.kind, air_c, rh_pct, wet_film_um: film, reference_wet_film_um: film };
    try {
      const { data } = await call("/v1/calculations/drying-clock", { body: asked });
      body.replaceChildren(...data.stages.map(row));
      table.hidden = false;
      says.textContent = data.film_forms ? t("set_up.product.reckoned_why") : t("set_up.product.no_film");
    } catch (error) {
      table.hidden = true;
      says.textContent = error.message;
    }
  };
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(ask, REST_MS);
  };
  form.node.addEventListener("input", soon);
  form.node.addEventListener("click", soon);
  soon();
  return el("div", { class: "beside", "aria-live": "polite" }, table, says);
}

function row(stage) {
  const hours = stage.likely_h === null ? t("set_up.product.never") : shown(stage.likely_h, "h");
  const from = t(stage.assumed ? "set_up.product.practice" : "set_up.product.sheet");
  return el("tr", {}, el("th", { scope: "row" }, tOr(`words.${stage.stage}`, stage.stage)), el("td", { class: "number" }, hours), el("td", {}, from));
}
