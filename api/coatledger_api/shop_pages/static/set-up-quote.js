// The proof that the wall is complete: a ship date for something the shop sells, with nothing stored.
import { call, inWords, may } from "./ledger.js";
import { inputOf, selectOf } from "./set-up-form.js";
import { faultsOf, showFaults } from "./set-up-record.js";
import { el } from "./standing.js";
import { saidDate } from "./times.js";
import { t } from "./texts.js";

export function quoteView({ known }) {
  if (!may("promise")) return el("p", { class: "sheet" }, t("set_up.quote.no_promise"));
  const what = selectOf("offering", t("fields.offering"), known.offering.map((one) => [one.offering, one.name ?? one.offering]));
  const many = inputOf("quantity", { label: t("fields.quantity"), inputmode: "numeric", value: "1" });
  const says = el("div", { role: "status", class: "answer" });
  const fault = el("p", { class: "fault", role: "alert" });
  const form = el(
    "form",
    { class: "sheet", novalidate: true, "aria-label": t("set_up.quote.new") },
    el("h3", { tabindex: "-1" }, t("set_up.quote.new")),
    el("div", { class: "fields" }, what.node, many.node),
    fault,
    el("button", { class: "tape fresh" }, t("set_up.quote.ask")),
    says,
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const quantity = Number(many.input.value);
    const whole = Number.isInteger(quantity) && quantity >= 1 && quantity <= 1000;
    showFaults(form, whole ? [] : [["quantity", t("form.out_of_range")]]);
    fault.textContent = "";
    if (!whole) return;
    says.textContent = t("set_up.quote.asking");
    const sold = known.offering.find((one) => one.offering === what.select.value);
    const options = Object.fromEntries(Object.entries(sold.options ?? {}).map(([axis, values]) => [axis, values[0]]));
    try {
      const body = { lines: [{ offering: sold.offering, quantity, options }] };
      says.replaceChildren(...answer((await call("/v1/promises/quote", { body, timeoutMs: 60_000 })).data));
    } catch (error) {
      says.replaceChildren();
      const lacks = faultsOf(error).map(([, told]) => told);
      fault.textContent = [inWords(error, t), ...lacks.filter((one) => one !== error.message)].join(" ");
    }
  });
  return form;
}

function answer(quote) {
  const days = quote.quantiles.map(({ level_pct, ships_by }) => el("li", {}, t("set_up.quote.chance", { pct: level_pct, day: saidDate(ships_by) })));
  return [
    el("p", { class: "large" }, t("set_up.quote.ships_by", { day: saidDate(quote.ships_by), level: quote.level_pct })),
    el("ul", {}, days),
    quote.assumed.length > 0 ? el("details", { class: "more" }, el("summary", {}, t("set_up.quote.assumed")), el("ul", {}, quote.assumed.map((one) => el("li", {}, one)))) : null,
  ].filter(Boolean);
}
