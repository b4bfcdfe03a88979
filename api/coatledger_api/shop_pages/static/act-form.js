// A form for any act, made from what the act asks for: choices as strips of tape, numbers in the
// shop's own units, cans, guns and rooms from those that are there. What is rarely said stands below.
import { el } from "./standing.js";
import { sha256 } from "./sha256.js";
import { kindIn, plain, recorded, unitOf } from "./units.js";
import { t, tOr } from "./texts.js";

const GRITS = [80, 100, 120, 150, 180, 220, 320, 400, 600];
const PHOTO = "[0-9a-f]{64}";
let made = 0;

/**
 * Build the fields of an act. `fact` is what is known, `first` names what is asked at once, `known`
 * lists words by subject. Returns {node, read()}; `read` gives {fact, faults} of what stands there.
 */
export function buildForm(spec, { fact, first = [], hidden = [], known = {} }) {
  const values = { ...fact };
  const faults = new Map();
  const build = (fields) =>
    fields.map((field) => {
      const built = fieldNode(field, values, faults, known);
      built.dataset.field = field.name;
      return built;
    });
  const asked = spec.fields.filter((field) => !hidden.includes(field.name));
  const isFirst = (field) => field.required || first.includes(field.name);
  const ranked = asked.filter(isFirst).sort((a, b) => rank(first, a) - rank(first, b));
  const rest = asked.filter((field) => !isFirst(field));
  const node = el("div", { class: "asked" }, build(ranked));
  if (rest.length > 0) {
    const more = el("details", { class: "more" }, el("summary", {}, t("form.more")), build(rest));
    node.append(more);
  }
  return {
    node,
    read: () => {
      const found = tidy(spec.fields, values);
      const missing = asked
        .filter((field) => field.required && found[field.name] === undefined && !faults.has(field.name))
        .map((field) => [labelOf(field), t("form.missing")]);
      return { fact: { ...withoutFields(values, spec), ...found }, faults: [...faults, ...missing] };
    },
  };
}

const rank = (first, field) => {
  const at = first.indexOf(field.name);
  return at < 0 ? first.length : at;
};

const withoutFields = (values, spec) => {
  const names = new Set(spec.fields.map((field) => field.name));
  return Object.fromEntries(Object.entries(values).filter(([name]) => !names.has(name)));
};

// What says nothing is left out: an empty field, and a default nobody changed.
function tidy(fields, values) {
  const found = {};
  for (const { name, kind, fields: inner, many } of fields) {
    let value = values[name];
    if (kind === "rows" && value) {
      const rows = (many ? value : [value]).map((row) => tidy(inner, row));
      value = rows.filter((row) => Object.keys(row).length > 0);
      if (!many) value = value[0];
    }
    const empty = value === undefined || value === null || value === "" || value?.length === 0;
    if (!empty) found[name] = value;
  }
  return found;
}

function fieldNode(field, values, faults, known) {
  if (field.name === "pieces" && (values.pieces?.length ?? 0) > 0) return piecesNode(field, values, faults);
  if (field.kind === "choice") return choiceNode(field, values);
  if (field.kind === "flag") return flagNode(field, values);
  if (field.kind === "rows") return rowsNode(field, values, faults, known);
  if (field.name.endsWith("grit")) return gritNode(field, values, faults);
  if (field.pattern?.includes(PHOTO)) return photoNode(field, values, faults);
  if (field.subject in known && !field.many) return knownNode(field, values, faults, known);
  return inputNode(field, values, faults);
}

export function labelOf(field) {
  // A whole number counts something: the ending of coats_min is no minute.
  const unit = field.kind === "number" && !field.whole ? unitOf(field.name) : "";
  const said = tOr(`fields.${field.name}`, field.name.replace(/_(c|pct|um|mm|m2|m3|l|kpa|h|s|min)$/, ""));
  return unit ? `${said} (${unit})` : said;
}

/** A row of tapes of which one, or with `many` several, are chosen. */
export function tapes(legend, choices, { chosen, many = false, onchoose }) {
  const list = el("div", { class: "tapes" });
  const now = new Set([chosen ?? []].flat());
  for (const { value, says } of choices) {
    const tape = el("button", { type: "button", class: "tape", "aria-pressed": String(now.has(value)) }, says);
    tape.addEventListener("click", () => {
      const was = tape.getAttribute("aria-pressed") === "true";
      if (!many) for (const one of list.children) one.setAttribute("aria-pressed", "false");
      tape.setAttribute("aria-pressed", String(!was));
      if (!many) now.clear();
      if (was) now.delete(value);
      else now.add(value);
      onchoose(many ? choices.map((one) => one.value).filter((one) => now.has(one)) : [...now][0]);
    });
    list.append(tape);
  }
  return el("fieldset", {}, el("legend", {}, legend), list);
}

const saidChoice = (value) => tOr(`words.${value}`, String(value));

function choiceNode(field, values) {
  const choices = field.choices.map((value) => ({ value, says: saidChoice(value) }));
  return tapes(labelOf(field), choices, {
    chosen: values[field.name] ?? field.default,
    many: field.many === true,
    onchoose: (value) => (values[field.name] = value),
  });
}

function flagNode(field, values) {
  const chosen = values[field.name] ?? field.default;
  const both = [true, false].map((value) => ({ value, says: t(value ? "form.yes" : "form.no") }));
  return tapes(labelOf(field), both, {
    chosen: chosen === undefined ? [] : chosen,
    onchoose: (value) => (values[field.name] = value),
  });
}

function gritNode(field, values, faults) {
  const grits = new Set(values[field.name] ? [...GRITS, values[field.name]] : GRITS);
  const choices = [...grits].sort((a, b) => a - b).map((value) => ({ value, says: `P${value}` }));
  const node = tapes(labelOf(field), choices, {
    chosen: values[field.name],
    onchoose: (value) => {
      values[field.name] = value;
      faults.delete(field.name);
    },
  });
  return node;
}

function knownNode(field, values, faults, known) {
  const words = [...new Set([...known[field.subject], values[field.name]].filter(Boolean))];
  const node = tapes(labelOf(field), words.map((value) => ({ value, says: value })), {
    chosen: values[field.name],
    onchoose: (value) => {
      values[field.name] = value;
      other.value = "";
    },
  });
  const id = `field-${(made += 1)}`;
  const other = el("input", { id, autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
  other.addEventListener("input", () => {
    for (const tape of node.querySelectorAll("[aria-pressed]")) tape.setAttribute("aria-pressed", "false");
    take(field, other, values, faults);
  });
  node.append(el("label", { for: id, class: "faded" }, t("form.other", { what: labelOf(field) })), other);
  return node;
}

// Those already chosen can be left out, and others typed beside them.
function piecesNode(field, values, faults) {
  const all = [...values.pieces];
  let kept = all;
  const typed = {};
  const join = () => (values.pieces = [...new Set([...kept, ...(typed.pieces ?? [])])]);
  const node = tapes(t("form.pieces", { count: all.length }), all.map((value) => ({ value, says: value })), {
    chosen: all,
    many: true,
    onchoose: (some) => {
      kept = some;
      join();
    },
  });
  const id = `field-${(made += 1)}`;
  const others = el("input", { id, autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
  others.addEventListener("input", () => {
    take(field, others, typed, faults);
    join();
  });
  node.append(el("label", { for: id, class: "faded" }, t("form.other_pieces")), others);
  return node;
}

function inputNode(field, values, faults) {
  const id = `field-${(made += 1)}`;
  const long = field.kind === "pairs" || field.name === "note";
  const given = { id, name: field.name, autocomplete: "off", autocapitalize: "off", spellcheck: "false" };
  if (field.kind === "number") given.inputmode = "decimal";
  if (field.kind === "day") given.type = "date";
  if (field.kind === "moment") given.type = "datetime-local";
  const input = el(long ? "textarea" : "input", given);
  input.value = asText(field, values[field.name]);
  const fault = el("p", { class: "fault", id: `${id}-fault`, hidden: true });
  input.setAttribute("aria-describedby", fault.id);
  input.addEventListener("input", () => {
    take(field, input, values, faults);
    input.setAttribute("aria-invalid", String(faults.has(field.name)));
    fault.textContent = faults.get(field.name) ?? "";
    fault.hidden = !faults.has(field.name);
  });
  const hint = field.many ? el("p", { class: "faded" }, t("form.several")) : null;
  return el("div", { class: "field" }, el("label", { for: id }, labelOf(field)), hint, input, fault);
}

function asText(field, value) {
  if (value === undefined || value === null) return "";
  if (field.many) return value.join(" ");
  if (field.kind === "number" && kindIn(field.name)) return plain(value, kindIn(field.name)).replaceAll(",", "");
  if (field.kind === "pairs") return Object.entries(value).map((pair) => pair.join("=")).join("\n");
  if (field.kind === "moment") {
    const at = new Date(value);
    return new Date(at - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
  }
  return String(value);
}

// Take what was typed into the values, or note what is wrong with it.
function take(field, input, values, faults) {
  faults.delete(field.name);
  const text = input.value.trim();
  if (text === "") {
    delete values[field.name];
    return;
  }
  const one = (part) => {
    if (field.kind !== "number") return part;
    const kind = kindIn(field.name);
    const value = kind ? recorded(part, kind) : Number(part.replace(",", "."));
    if (value === null || Number.isNaN(value)) throw new Error(t("form.no_number"));
    const low = field.least ?? field.above ?? -Infinity;
    if (value < low || value === field.above || value > (field.most ?? Infinity)) {
      throw new Error(t("form.out_of_range"));
    }
    return value;
  };
  try {
    values[field.name] = READ[field.kind]?.(text) ?? (field.many ? text.split(/[\s,]+/).map(one) : one(text));
    const bad = [values[field.name]].flat().find((part) => field.pattern && !new RegExp(field.pattern).test(part));
    if (bad !== undefined) throw new Error(t("form.bad_word", { word: bad }));
  } catch (error) {
    delete values[field.name];
    faults.set(field.name, error.message);
  }
}

const READ = {
  moment: (text) => new Date(text).toISOString(),
  pairs: (text) => Object.fromEntries(text.split(/\n+/).map((line) => line.split("=").map((part) => part.trim()))),
};

function rowsNode(field, values, faults, known) {
  const rows = field.many ? (values[field.name] ?? [{}]).map((row) => ({ ...row })) : [{ ...values[field.name] }];
  values[field.name] = field.many ? rows : rows[0];
  const box = el("div", {});
  const list = el("fieldset", { class: "rows" }, el("legend", {}, labelOf(field)), box);
  const draw = () => {
    box.replaceChildren(
      ...rows.map((row) =>
        el("div", { class: "row" }, field.fields.filter((inner) => inner.name !== "at").map((inner) => fieldNode(inner, row, faults, known))),
      ),
    );
  };
  draw();
  if (field.many && field.name !== "readings") {
    const more = el("button", { type: "button", class: "tape plain" }, t("form.one_more"));
    more.addEventListener("click", () => {
      rows.push({});
      draw();
    });
    list.append(more);
  }
  return list;
}

function photoNode(field, values, faults) {
  const id = `field-${(made += 1)}`;
  const input = el("input", { id, type: "file", accept: "image/*", capture: "environment" });
  const says = el("p", { class: "faded" }, t("form.photo_stays"));
  input.addEventListener("change", async () => {
    const [file] = input.files;
    if (!file) return;
    faults.delete(field.name);
    values[field.name] = sha256(new Uint8Array(await file.arrayBuffer()));
    says.textContent = t("form.photo_taken", { hash: values[field.name].slice(0, 12) });
  });
  return el("div", { class: "field" }, el("label", { for: id }, labelOf(field)), input, says);
}
