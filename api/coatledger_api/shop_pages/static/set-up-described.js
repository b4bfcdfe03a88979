// One kind of thing the shop describes: what hangs there already, and the form for one more or for a
// later word about one of them. Nothing is changed in place: an edit records the later description.
import { inWords } from "./ledger.js";
import { faultsOf, recorder, showFaults } from "./set-up-record.js";
import { begun, forgetBegun, groupedForm, inputOf, keepBegun } from "./set-up-form.js";
import { AS_RECORDED, AS_TYPED, GROUPS, STARTS } from "./set-up-sections.js";
import { hoursPart, zonePart } from "./set-up-hours.js";
import { reckonedWith } from "./set-up-reckoned.js";
import { stepsPart } from "./set-up-steps.js";
import { words } from "./set-up-known.js";
import { el } from "./standing.js";
import { t } from "./texts.js";

/** The view of a kind: `done` is called after something was recorded. */
export function describedView(kind, { spec, known, done }) {
  const one = kind === "shop" ? known.shop[0] : null;
  const form = el("div", {});
  const open = (fact, isNew) => form.replaceChildren(formNode(kind, { spec, known, done, fact, isNew }));
  const kept = begun(kind);
  const list = kind === "shop" ? null : hungNode(kind, known[kind], (fact) => {
    open(fact, false);
    form.querySelector("h3").focus();
  });
  if (kept) open(kept, !known[kind].some((there) => there[kind] === kept[kind]));
  else if (one) open(one, false);
  else open(startOf(kind, known), true);
  return el("div", {}, list, form);
}

function startOf(kind, known) {
  const start = STARTS[kind];
  const taken = start[kind] && known[kind].some((one) => one[kind] === start[kind]);
  return taken ? { ...start, [kind]: undefined } : start;
}

function hungNode(kind, things, change) {
  if (things.length === 0) return null;
  return el(
    "ul",
    { class: "hung", "aria-label": t(`set_up.${kind}.hung`) },
    things.map((fact) =>
      el(
        "li",
        {},
        el("p", {}, el("strong", {}, fact.name ?? fact[kind]), " ", el("span", { class: "faded" }, saidOf(kind, fact))),
        el("button", { type: "button", class: "tape plain on-screen", onclick: () => change(fact) }, t("set_up.change", { what: fact[kind] })),
      ),
    ),
  );
}

function saidOf(kind, fact) {
  if (kind === "schedule") return t("set_up.schedule.said", { count: fact.steps.length });
  if (kind === "offering") return fact.skus.join(", ");
  return fact.name ? fact[kind] : "";
}

function formNode(kind, { spec, known, done, fact, isNew }) {
  const others = Object.fromEntries(Object.entries(words(known)).filter(([name]) => name !== kind));
  const own = { [kind]: (value) => wordPart(kind, value, isNew) };
  if (kind === "shop") Object.assign(own, { hours: hoursPart, zone: zonePart, pickup_cutoff: cutoffPart });
  if (kind === "schedule") own.steps = (value) => stepsPart(value, { spec, known });
  const typed = (AS_TYPED[kind] ?? ((given) => given))(fact);
  const form = groupedForm(spec, GROUPS[kind], { tag: kind, fact: typed, known: others, own });
  const says = el("p", { class: "fault", role: "alert" });
  const record = recorder();
  const beside = kind === "product" ? reckonedWith(form) : null;
  const title = isNew ? t(`set_up.${kind}.new`) : t("set_up.changing", { what: fact.name ?? fact[kind] ?? t("set_up.the_shop") });
  const node = el(
    "form",
    { class: "sheet", novalidate: true, "aria-label": title },
    el("h3", { tabindex: "-1" }, title),
    form.node,
    beside,
    says,
    el("button", { class: "tape fresh wide" }, isNew ? t("set_up.hang") : t("set_up.record_later")),
  );
  const keep = () => keepBegun(kind, (AS_RECORDED[kind] ?? ((given) => given))(form.read().fact));
  node.addEventListener("input", keep);
  node.addEventListener("click", (event) => event.target.closest(".groups") && keep());
  node.addEventListener("submit", async (event) => {
    event.preventDefault();
    says.textContent = "";
    const read = form.read();
    const told = { type: `${kind}_described`, ...(AS_RECORDED[kind] ?? ((given) => given))(read.fact) };
    const taken = isNew && kind !== "shop" && known[kind].some((one) => one[kind] === told[kind]);
    if (taken) read.faults.push([kind, t("set_up.taken", { what: told[kind] })]);
    if (left(node, read.faults, says)) return;
    try {
      await record([told]);
      forgetBegun(kind);
      await done(t("set_up.hung_up", { what: told.name ?? told[kind] ?? t("set_up.the_shop") }));
    } catch (error) {
      const faults = faultsOf(error);
      if (!left(node, faults, says)) says.textContent = inWords(error, t);
    }
  });
  return node;
}

// Show the faults; those without a field here are told below. Returns whether there are any.
function left(node, faults, says) {
  const rest = showFaults(node, faults);
  says.textContent = rest.map(([name, told]) => (name ? `${name}: ${told}` : told)).join("; ");
  return faults.length > 0;
}

function wordPart(kind, value, isNew) {
  const { node, input } = inputOf(kind, { label: t(`set_up.${kind}.word`), value: value ?? "", autocapitalize: "off", maxlength: "40", readonly: !isNew });
  return {
    node,
    read: () => {
      const word = input.value.trim();
      if (!word) return { fact: {}, faults: [[kind, t("form.missing")]] };
      const bad = !/^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/.test(word);
      return bad ? { fact: {}, faults: [[kind, t("set_up.no_word")]] } : { fact: { [kind]: word }, faults: [] };
    },
  };
}

function cutoffPart(value) {
  const { node, input } = inputOf("pickup_cutoff", { label: t("fields.pickup_cutoff"), type: "time", value: value ?? "" });
  return { node, read: () => ({ fact: input.value ? { pickup_cutoff: input.value } : {}, faults: [] }) };
}
