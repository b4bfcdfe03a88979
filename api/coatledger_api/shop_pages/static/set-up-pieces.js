// The first pieces: one, or many by a pattern of numbers, or a table; all of them in one batch.
import { inWords } from "./ledger.js";
import { begun, forgetBegun, groupedForm, inputOf, keepBegun } from "./set-up-form.js";
import { faultsOf, recorder, showFaults } from "./set-up-record.js";
import { words } from "./set-up-known.js";
import { el } from "./standing.js";
import { t } from "./texts.js";

const AT_ONCE = 500;
const WORD = /^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/;
const SHOWN = 40;
export const PIECE_GROUPS = [
  { name: "which", fields: ["pieces"] },
  { name: "what", fields: ["kind", "species", "coat_area_m2", "use", "schedule"] },
  { name: "piece_more", fields: ["substrate", "length_mm", "width_mm", "thickness_mm", "sheen", "stained", "refinish"], folded: true },
];

export function piecesView({ spec, known, done }) {
  const fact = begun("pieces") ?? {};
  const form = groupedForm(spec, PIECE_GROUPS, { tag: "pieces", fact, known: words(known), own: { pieces: whichPart } });
  const says = el("p", { class: "fault", role: "alert" });
  const record = recorder();
  const node = el(
    "form",
    { class: "sheet", novalidate: true, "aria-label": t("set_up.pieces.new") },
    el("h3", { tabindex: "-1" }, t("set_up.pieces.new")),
    form.node,
    says,
    el("button", { class: "tape fresh" }, t("set_up.pieces.start")),
  );
  node.addEventListener("input", () => keepBegun("pieces", form.read().fact));
  node.addEventListener("submit", async (event) => {
    event.preventDefault();
    const read = form.read();
    if (told(node, read.faults, says)) return;
    try {
      await record([{ type: "piece_started", ...read.fact }]);
      forgetBegun("pieces");
      await done(t("set_up.pieces.started", { count: read.fact.pieces.length }));
    } catch (error) {
      if (!told(node, faultsOf(error), says)) says.textContent = inWords(error, t);
    }
  });
  return el("div", {}, hereNode(known), el("p", {}, el("a", { class: "tape", href: "#table" }, t("set_up.pieces.table"))), node);
}

function told(node, faults, says) {
  says.textContent = showFaults(node, faults).map(([name, what]) => (name ? `${name}: ${what}` : what)).join("; ");
  return faults.length > 0;
}

function hereNode(known) {
  if (known.pieces.length === 0) return null;
  const some = known.pieces.slice(0, SHOWN).map((one) => one.piece).join(", ");
  const more = known.pieces.length > SHOWN || known.morePieces;
  return el("p", {}, t("set_up.pieces.here", { pieces: some }), more ? " …" : "");
}

// Words typed, or a pattern: "SH-21-" from 1, 8 of them.
function whichPart(value) {
  const typed = inputOf("typed", { label: t("set_up.pieces.typed"), hint: t("set_up.pieces.typed_hint"), value: (value ?? []).join(" "), autocapitalize: "off" });
  const begins = inputOf("begins", { label: t("set_up.pieces.begins"), autocapitalize: "off" });
  const first = inputOf("first", { label: t("set_up.pieces.first"), inputmode: "numeric", value: "1" });
  const many = inputOf("many", { label: t("set_up.pieces.many"), inputmode: "numeric" });
  const preview = el("p", { role: "status", class: "faded" });
  const write = () => {
    const from = Number(first.input.value);
    const count = Number(many.input.value);
    preview.textContent = "";
    if (!begins.input.value || !Number.isInteger(from) || !(count >= 1 && count <= AT_ONCE)) return;
    const wide = first.input.value.trim().length;
    const made = Array.from({ length: count }, (_, n) => begins.input.value.trim() + String(from + n).padStart(wide, "0"));
    typed.input.value = made.join(" ");
    preview.textContent = t("set_up.pieces.preview", { first: made[0], last: made.at(-1), count });
  };
  for (const part of [begins, first, many]) {
    part.input.addEventListener("input", write);
    delete part.node.dataset.field;
  }
  delete typed.node.dataset.field;
  const node = el(
    "fieldset",
    {},
    el("legend", {}, t("set_up.pieces.which")),
    typed.node,
    el("p", {}, t("set_up.pieces.pattern")),
    el("div", { class: "fields" }, begins.node, first.node, many.node),
    preview,
  );
  return { node, read: () => readPieces(typed.input.value) };
}

function readPieces(text) {
  const pieces = text.split(/[\s,;]+/).filter(Boolean);
  const fault = (says) => ({ fact: {}, faults: [["pieces", says]] });
  if (pieces.length === 0) return fault(t("form.missing"));
  const bad = pieces.find((one) => !WORD.test(one));
  if (bad) return fault(t("form.bad_word", { word: bad }));
  const twice = pieces.find((one, at) => pieces.indexOf(one) !== at);
  if (twice) return fault(t("set_up.pieces.twice", { word: twice }));
  if (pieces.length > AT_ONCE) return fault(t("set_up.pieces.too_many", { most: AT_ONCE }));
  return { fact: { pieces }, faults: [] };
}
