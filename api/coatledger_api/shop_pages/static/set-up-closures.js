// Days on which the shop does not work: those told already, and more of them in one batch.
import { inWords } from "./ledger.js";
import { inputOf, selectOf } from "./set-up-form.js";
import { faultsOf, recorder, showFaults } from "./set-up-record.js";
import { el } from "./standing.js";
import { saidDate } from "./times.js";
import { t } from "./texts.js";

const WHY = ["holiday", "leave", "repair", "weather", "other"];

export function closuresView({ known, done }) {
  const says = el("p", { class: "fault", role: "alert" });
  const first = inputOf("first_day", { label: t("set_up.closures.first"), type: "date" });
  const last = inputOf("last_day", { label: t("set_up.closures.last"), hint: t("set_up.closures.last_hint"), type: "date" });
  const why = selectOf("why", t("fields.why"), WHY.map((word) => [word, t(`words.${word}`)]), "leave");
  const send = recorder();
  const form = el(
    "form",
    { class: "sheet", novalidate: true, "aria-label": t("set_up.closures.new") },
    el("h3", { tabindex: "-1" }, t("set_up.closures.new")),
    el("div", { class: "fields" }, first.node, last.node, why.node),
    says,
    el("button", { class: "tape fresh" }, t("set_up.hang")),
  );
  const record = async (fact, words) => {
    try {
      await send([{ type: "closure_announced", ...fact }]);
      await done(words);
    } catch (error) {
      const rest = showFaults(form, faultsOf(error));
      says.textContent = rest.map(([, told]) => told).join("; ") || (faultsOf(error).length ? "" : inWords(error, t));
    }
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const from = first.input.value;
    const to = last.input.value || from;
    const faults = [];
    if (!from) faults.push(["first_day", t("form.missing")]);
    else if (to < from) faults.push(["last_day", t("set_up.closures.backwards")]);
    showFaults(form, faults);
    if (faults.length === 0) record({ first_day: from, last_day: to, why: why.select.value }, t("set_up.hung_up", { what: saidDays(from, to) }));
  });
  const region = known.shop[0]?.holidays;
  return el(
    "div",
    {},
    el("p", {}, region ? t("set_up.closures.region", { region }) : t("set_up.closures.no_region")),
    el("p", {}, el("a", { class: "tape plain", href: "#shop" }, t("set_up.closures.to_region"))),
    el("ul", { class: "hung" }, known.closures.map((one) => closureNode(one, record))),
    form,
  );
}

const saidDays = (from, to) => (from === to ? saidDate(from) : t("set_up.closures.days", { from: saidDate(from), to: saidDate(to) }));

function closureNode({ first_day, last_day, why }, record) {
  const said = saidDays(first_day, last_day);
  const back = () => record({ first_day, last_day, ...(why ? { why } : {}), cancelled: true }, t("set_up.closures.taken_back", { what: said }));
  return el(
    "li",
    {},
    el("p", {}, el("strong", {}, said), " ", el("span", { class: "faded" }, t(`words.${why ?? "other"}`))),
    el("button", { type: "button", class: "tape plain", onclick: back }, t("set_up.closures.take_back", { what: said })),
  );
}
