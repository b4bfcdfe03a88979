// The steps of a schedule: proposed with a reason for each, from the wood, its use and the finish's
// sheet; then the shop's own, to be changed, moved, left out or added to.
import { buildForm } from "./act-form.js";
import { call, inWords } from "./ledger.js";
import { inputOf, selectOf } from "./set-up-form.js";
import { el } from "./standing.js";
import { shown } from "./units.js";
import { t, tOr } from "./texts.js";

const SHEET = ["recoat_h", "wrap_h", "coats_min", "coats_max", "bare_grit_max", "scuff_grit", "burns_in"];
const WOODS = ["ash", "white oak", "red oak", "cherry", "walnut", "hard maple", "soft maple", "beech",
  "yellow birch", "mahogany", "eastern white pine"];
const USES = ["decor", "shelf", "box", "table", "hard_use"];
const SHEENS = ["dead_flat", "matte", "satin", "semi_gloss", "gloss"];

export function stepsPart(value, { spec, known }) {
  const fields = spec.fields.find((field) => field.name === "steps").fields;
  const steps = (value ?? []).map((step) => ({ step: { ...step } }));
  const list = el("ol", { class: "steps" });
  const says = el("div", { role: "status" });
  const fault = el("p", { class: "fault", hidden: true });
  const products = known.product.map((one) => one.product);
  const draw = () => list.replaceChildren(...steps.map((one, at) => stepNode(one, at)));
  const move = (at, by, to) => {
    const [one] = steps.splice(at, 1);
    if (by !== null) steps.splice(at + by, 0, one);
    draw();
    list.children[Math.min(to, steps.length - 1)]?.querySelector("summary")?.focus();
  };
  const stepNode = (one, at) => {
    one.form ??= buildForm({ fields }, { fact: one.step, first: fields.map((field) => field.name), known: { product: products } });
    const title = el("span", {}, saidStep(one.step));
    const tell = () => {
      one.step = one.form.read().fact;
      title.textContent = saidStep(one.step);
    };
    one.form.node.oninput = tell;
    one.form.node.onclick = tell;
    const tape = (name, act, off = false) =>
      el("button", { type: "button", class: "tape plain", disabled: off, onclick: act, "aria-label": t(`set_up.schedule.${name}_of`, { step: at + 1 }) }, t(`set_up.schedule.${name}`));
    return el(
      "li",
      {},
      el(
        "details",
        {},
        el("summary", {}, title),
        one.form.node,
        el("div", { class: "tapes" }, tape("sooner", () => move(at, -1, at - 1), at === 0), tape("later", () => move(at, 1, at + 1), at === steps.length - 1), tape("leave_out", () => move(at, null, at))),
      ),
      one.reason ? el("p", { class: "faded" }, one.reason) : null,
    );
  };
  const take = (proposed, product) => {
    steps.splice(0, steps.length, ...proposed.steps.map((step) => asStep(step, product)));
    const heard = proposed.cautions.map((one) => el("li", {}, one));
    says.replaceChildren(el("p", {}, t("set_up.schedule.proposed", { count: steps.length })), el("ul", {}, heard));
    draw();
    list.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const add = () => {
    steps.push({ step: {} });
    draw();
    list.lastChild.querySelector("details").open = true;
    list.lastChild.querySelector("summary").focus();
  };
  draw();
  const node = el(
    "div",
    {},
    proposalNode(known, take),
    says,
    list,
    fault,
    el("button", { type: "button", class: "tape plain", onclick: add }, t("set_up.schedule.one_more")),
  );
  return { node, read: () => readSteps(steps) };
}

function readSteps(steps) {
  const read = steps.map((one) => one.form.read());
  const faults = read.flatMap((one, at) =>
    one.faults.map(([name, says]) => ["steps", t("set_up.schedule.at_step", { step: at + 1, what: tOr(`fields.${name}`, name), says })]),
  );
  if (steps.length === 0) faults.push(["steps", t("set_up.schedule.no_steps")]);
  return { fact: steps.length > 0 ? { steps: read.map((one) => one.fact) } : {}, faults };
}

function asStep(step, product) {
  const { act, role, by_hand, grit_p, wet_film_um, reason, source } = step;
  const given = { act, role, by_hand: by_hand || undefined, grit: grit_p, wet_film_um };
  if (act === "coat") given.product = product;
  const kept = Object.entries(given).filter(([, value]) => value !== null && value !== undefined);
  return { step: Object.fromEntries(kept), reason: `${reason} (${source})` };
}

function saidStep({ act, product, grit, role, wet_film_um, by_hand }) {
  const parts = [act ? tOr(`words.${act}`, act) : t("set_up.schedule.empty_step")];
  if (grit) parts.push(`P${grit}`);
  if (role) parts.push(tOr(`words.${role}`, role));
  if (product) parts.push(product);
  if (wet_film_um) parts.push(shown(wet_film_um, "um"));
  if (by_hand) parts.push(t("fields.by_hand"));
  return parts.join(" · ");
}

// What is asked for a proposal; the sheet of the chosen finish goes with it.
function proposalNode(known, take) {
  const wood = inputOf("wood", { label: t("fields.species"), list: "woods", value: "ash" });
  wood.node.append(el("datalist", { id: "woods" }, WOODS.map((one) => el("option", { value: one }))));
  const named = (words) => words.map((word) => [word, tOr(`words.${word}`, word)]);
  const finish = selectOf("finish", t("set_up.schedule.finish"), known.product.map((one) => [one.product, one.name ?? one.product]));
  const use = selectOf("used_as", t("fields.use"), named(USES));
  const look = selectOf("look", t("set_up.schedule.look"), named(["natural", "filled"]));
  const sheen = selectOf("sheen", t("fields.sheen"), named(SHEENS), "satin");
  const stain = selectOf("stained", t("set_up.schedule.stain"), [["", t("form.no")], ["water_borne", t("words.water_borne")], ["oil_based", t("words.oil_based")]]);
  const says = el("p", { class: "fault", role: "alert" });
  const ask = async () => {
    says.textContent = "";
    const sheet = known.product.find((one) => one.product === finish.select.value);
    const given = SHEET.filter((name) => sheet?.[name] !== undefined).map((name) => [name, sheet[name]]);
    const body = {
      species: wood.input.value.trim(), use: use.select.value, look: look.select.value, sheen: sheen.select.value,
      stained: stain.select.value !== "",
      ...(stain.select.value ? { stain_binder: stain.select.value } : {}),
      sheet: { kind: sheet?.kind, ...Object.fromEntries(given), ...(sheet?.reference_wet_film_um ? { wet_film_um: sheet.reference_wet_film_um } : {}) },
    };
    try {
      take((await call("/v1/calculations/schedule", { body })).data, finish.select.value);
    } catch (error) {
      says.textContent = inWords(error, t);
    }
  };
  return el(
    "section",
    { class: "propose" },
    el("h4", {}, t("set_up.schedule.propose")),
    el("p", {}, t("set_up.schedule.propose_why")),
    el("div", { class: "fields" }, [finish, wood, use, look, sheen, stain].map((one) => one.node)),
    says,
    el("button", { type: "button", class: "tape", onclick: ask }, t("set_up.schedule.ask")),
  );
}
