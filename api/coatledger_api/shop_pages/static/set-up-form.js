// A form in groups, each said why: the fields of an act, with where one finds each value and what is
// reckoned with where it is left out. What is begun is kept on this device until it is recorded.
import { buildForm } from "./act-form.js";
import { el } from "./standing.js";
import { t, tOr } from "./texts.js";

const KEPT = "coatledger.set-up.";

/**
 * Build groups: [{name, fields: [names], open}]. `own` builds fields of its own kind by name, each as
 * {node, read()}. Returns {node, read()} where read gives {fact, faults}.
 */
export function groupedForm(spec, groups, { tag, fact, known, own = {} }) {
  const withDefaults = { ...defaults(spec), ...fact };
  const parts = [];
  const asked = new Set(["note", ...groups.flatMap((group) => group.fields)]);
  // What this page does not ask was told elsewhere, and a later description says it again.
  const unasked = spec.fields.filter(({ name }) => !asked.has(name) && fact[name] !== undefined);
  const nodes = groups.map((group) => {
    const body = group.fields.map((name) => {
      const field = spec.fields.find((one) => one.name === name);
      const part = own[name]?.(withDefaults[name], withDefaults) ?? single(field, withDefaults, known);
      part.node.dataset.field = name;
      parts.push([name, part]);
      return hinted(part.node, tag, name);
    });
    const title = t(`set_up.groups.${group.name}`);
    if (group.folded) return el("details", { class: "more" }, el("summary", {}, title), body);
    return el("section", { class: "group" }, el("h3", {}, title), why(group), el("div", { class: "fields" }, body));
  });
  return {
    node: el("div", { class: "groups" }, nodes),
    read: () => {
      const found = Object.fromEntries(unasked.map(({ name }) => [name, fact[name]]));
      const faults = [];
      for (const [name, part] of parts) {
        const read = part.read();
        if (read.fact[name] !== undefined) found[name] = read.fact[name];
        faults.push(...read.faults.map(([, says]) => [name, says]));
      }
      return { fact: found, faults };
    },
  };
}

const why = (group) => {
  const says = tOr(`set_up.groups_why.${group.name}`, "");
  return says ? el("p", {}, says) : null;
};

function single(field, fact, known) {
  const built = buildForm({ fields: [field] }, { fact: { [field.name]: fact[field.name] }, first: [field.name], known });
  return { ...built, node: built.node.firstChild };
}

function hinted(node, tag, name) {
  const says = tOr(`set_up.hints.${tag}.${name}`, "");
  if (!says) return node;
  const hint = el("p", { class: "faded hint", id: `hint-${name}` }, says);
  const label = node.querySelector("label, legend");
  label?.after(hint);
  for (const input of node.querySelectorAll("input, textarea")) {
    const others = input.getAttribute("aria-describedby");
    input.setAttribute("aria-describedby", [hint.id, others].filter(Boolean).join(" "));
  }
  return node;
}

function defaults(spec) {
  const given = spec.fields.filter((field) => field.default !== undefined && field.kind !== "rows");
  return Object.fromEntries(given.map((field) => [field.name, field.default]));
}

/** What was begun and not yet recorded; null when nothing was. */
export function begun(name) {
  try {
    return JSON.parse(localStorage.getItem(KEPT + name));
  } catch {
    return null;
  }
}

export function keepBegun(name, fact) {
  try {
    localStorage.setItem(KEPT + name, JSON.stringify(fact));
  } catch {
    // no room: then it is not kept, and only a form that was left must be filled in again
  }
}

export function forgetBegun(name) {
  localStorage.removeItem(KEPT + name);
}

/** A labelled input of this page's own, with a place for its fault. */
export function inputOf(name, { label, hint, value = "", ...given }) {
  const id = `own-${name}`;
  const input = el("input", { id, name, autocomplete: "off", spellcheck: "false", ...given });
  input.value = value;
  const told = hint ? el("p", { class: "faded hint", id: `${id}-hint` }, hint) : null;
  const fault = el("p", { class: "fault", id: `${id}-fault`, hidden: true });
  input.setAttribute("aria-describedby", [told?.id, fault.id].filter(Boolean).join(" "));
  const node = el("div", { class: "field" }, el("label", { for: id }, label), told, input, fault);
  node.dataset.field = name;
  return { node, input };
}

/** A labelled list of which one is chosen. */
export function selectOf(name, label, choices, value = choices[0]?.[0]) {
  const id = `own-${name}`;
  const select = el("select", { id, name }, choices.map(([word, says]) => el("option", { value: word, selected: word === value }, says)));
  select.value = value;
  const node = el("div", { class: "field" }, el("label", { for: id }, label), select);
  node.dataset.field = name;
  return { node, select };
}
