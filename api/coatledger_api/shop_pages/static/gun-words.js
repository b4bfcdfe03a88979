// What the gun-side page says of acts, pieces and answers, in the words of the catalogue.
import { kindIn, shown } from "./units.js";
import { saidTime } from "./times.js";
import { t, tOr } from "./texts.js";

/** The word of a choice, a kind of wood or a state: "wrap_safe" → "wrap-safe". */
export function word(value) {
  return tOr(`words.${value}`, String(value));
}

/** "9 × shelf, white oak" of rows alike; "W-12, shelf, white oak" of one. */
export function saidPieces(rows) {
  const what = [rows[0].kind, rows[0].species && word(rows[0].species)].filter(Boolean).join(", ");
  if (rows.length === 1) return [rows[0].piece, what].filter(Boolean).join(" · ");
  return what ? t("gun.many", { count: rows.length, what }) : t("gun.pieces", { count: rows.length });
}

/** What an act is called before it is done: "Scuff", "Coat". */
export function doing(fact) {
  if (fact.type === "sanded" && fact.stage === "between_coats") return t("gun.do.scuffed");
  if (fact.type === "inspected" && fact.point === "final") return t("gun.do.passed");
  return tOr(`gun.do.${fact.type}`, fact.type);
}

/** What it is called once it is done: "Scuffed". */
export function done(fact) {
  if (fact.type === "sanded" && fact.stage === "between_coats") return t("gun.done.scuffed");
  if (fact.type === "inspected") return t(fact.passed ? "gun.done.passed" : "gun.done.failed");
  return tOr(`gun.done.${fact.type}`, fact.type);
}

const TOLD = ["role", "grit", "kind", "face", "extent", "remedy", "done", "by", "touching", "lot",
  "gun", "room", "place", "stage", "point", "device", "how", "why", "using", "cup", "efflux_s",
  "left_l", "moisture_pct", "gloss_gu", "carrier", "binder", "method"];
const UNTOLD = { sanded: ["stage"], inspected: ["by"], coat_applied: ["method"], lot_measured: ["by"] };

/** The rest of an act in a line: "sealer · can SEALER-W-05 · gun gun-1 · spray". */
export function details(fact) {
  const told = TOLD.filter((name) => fact[name] !== undefined && fact[name] !== null);
  const kept = told.filter((name) => !(UNTOLD[fact.type] ?? []).includes(name));
  const parts = kept.map((name) => saidValue(name, fact[name]));
  for (const reading of fact.readings ?? []) {
    parts.push(`${shown(reading.air_c, "c")}, ${shown(reading.rh_pct, "pct")}`);
  }
  if (fact.type === "dryness_checked") parts.push(t(fact.ready ? "gun.is_ready" : "gun.not_ready"));
  return parts.join(" · ");
}

/** One value with what it is of, so that it can be read by itself. */
export function saidValue(name, value) {
  if (["lot", "gun", "grit"].includes(name)) return t(`gun.said.${name}`, { value });
  if (["room", "place", "carrier"].includes(name)) return String(value);
  const kind = typeof value === "number" ? kindIn(name) : null;
  return kind ? shown(value, kind) : word(value);
}

/** Pieces an act names, as a short list. */
export function named(pieces = []) {
  if (pieces.length <= 3) return pieces.join(", ");
  return t("gun.named", { first: pieces[0], last: pieces.at(-1), count: pieces.length });
}

/** A sentence of the service without the ledger's own names: "record rags_dealt_with". */
export function plainWords(text) {
  return text.replace(/\b[a-z]+(?:_[a-z]+)+\b/g, (name) => spelt(name));
}

const spelt = (name) => tOr(`gun.done.${name}`, name).toLowerCase();

/** How an act stands, spelt out. */
export function standing(entry, queue) {
  if (entry.state === "accepted") return t(entry.corrected ? `gun.${entry.corrected}` : "gun.accepted");
  if (entry.state === "refused") return t("gun.refused", { why: reasons(entry.problem) });
  if (entry.state === "dropped") return t("gun.dropped", { why: tOr(`gun.why.${entry.reason}`, entry.reason) });
  if (entry.unkept) return t("gun.unkept");
  if (!entry.kept) return t("gun.keeping");
  return t(queue.away ? "gun.waiting_away" : "gun.waiting");
}

export function reasons(problem) {
  const faults = (problem?.faults ?? []).map((fault) => fault.detail);
  return faults.length > 0 ? faults.join("; ") : (problem?.detail ?? "");
}

/** When the next act of a row may begin. */
export function saidWhen(row) {
  const next = row.next ?? {};
  if (row.held) return t("gun.held");
  if (next.unclear) return t("gun.unclear");
  if (!next.from_sure && !next.from_likely) return next.waits_for ? t("gun.never") : t("gun.now");
  if (!next.from_sure) return t("gun.from_likely", { likely: saidTime(next.from_likely) });
  return t("gun.from", { likely: saidTime(next.from_likely), sure: saidTime(next.from_sure) });
}
