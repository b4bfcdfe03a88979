// A table of pieces as text, read into facts: the same column names as the command line reads, every
// fault with its line and column, and an id made from what a row says, so that a row recorded twice
// is one fact.
import { sha256 } from "./sha256.js";
import { t } from "./texts.js";

// US columns by the ends of their names, exact (NIST SP 811, appendix B).
const US = { _ft2: ["_m2", 0.3048 ** 2], _in: ["_mm", 25.4] };
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;
const FLAGS = { yes: true, true: true, no: false, false: false };

/** Read a table: {header: [names], rows: [{line, cells}]}, or throws with words for a person. */
export function tableOf(text) {
  const lines = text.replace(/^\ufeff/, "");
  const firstLine = lines.split(/\r?\n/).find((line) => !isSkipped(line)) ?? "";
  const mark = ["\t", ",", ";"].find((one) => firstLine.includes(one)) ?? ",";
  const all = rowsOf(lines, mark).filter(({ cells }) => cells.some((cell) => cell.trim()) && !cells[0].trimStart().startsWith("#"));
  if (all.length === 0) throw new Error(t("set_up.table.empty"));
  const header = all[0].cells.map((cell) => cell.trim());
  const twice = header.find((name, at) => header.indexOf(name) !== at);
  if (twice !== undefined) throw new Error(t("set_up.table.column_twice", { column: twice }));
  return { header, rows: all.slice(1) };
}

const isSkipped = (line) => !line.trim() || line.trimStart().startsWith("#");

function rowsOf(text, mark) {
  const rows = [];
  let cells = [""];
  let quoted = false;
  let line = 1;
  let begun = 1;
  const end = () => {
    rows.push({ line: begun, cells });
    cells = [""];
  };
  for (let at = 0; at < text.length; at += 1) {
    const one = text[at];
    if (one === "\n") line += 1;
    if (quoted && one === '"' && text[at + 1] === '"') cells[cells.length - 1] += text[(at += 1)];
    else if (one === '"' && (quoted || cells.at(-1) === "")) quoted = !quoted;
    else if (quoted) cells[cells.length - 1] += one;
    else if (one === mark) cells.push("");
    else if (one === "\n") {
      end();
      begun = line;
    } else if (one !== "\r") cells[cells.length - 1] += one;
  }
  if (quoted) throw new Error(t("set_up.table.open_quote", { line: begun }));
  end();
  return rows;
}

/** What a column may mean: its name in the ledger's units, and in US ones. */
export function columnsOf(fields) {
  return fields.flatMap((field) => {
    const us = Object.entries(US).find(([, [si]]) => field.name.endsWith(si));
    const own = { column: field.name, field, factor: 1 };
    return us ? [own, { column: field.name.replace(us[1][0], us[0]), field, factor: us[1][1] }] : [own];
  });
}

/** The column a heading means, by the ledger's name or the page's word for it; "" when none. */
export function meant(heading, columns, says) {
  const plain = (text) => text.toLowerCase().replace(/[^a-z0-9]+/g, " ").trim();
  const wanted = plain(heading);
  const named = columns.find((one) => plain(one.column) === wanted);
  return (named ?? columns.find((one) => plain(says(one)) === wanted || `${wanted}s` === one.column))?.column ?? "";
}

/**
 * Check all rows. `choice` names the column each cell is of, `common` what is said for all. Returns
 * {facts: [{line, fact}], faults: [{line, column, says}]}.
 */
export function factsOf(rows, { choice, columns, common, required, zone, at, here }) {
  const faults = [];
  const seen = new Map();
  const facts = rows.map(({ line, cells }) => {
    const note = (column, says) => faults.push({ line, column, says });
    const fact = { type: "piece_started", occurred_at: at, ...common };
    if (cells.length > choice.length) note("", t("set_up.table.too_many", { cells: cells.length, columns: choice.length }));
    choice.forEach((name, n) => {
      const text = (cells[n] ?? "").trim();
      const column = columns.find((one) => one.column === name);
      if (!text || !column) return;
      try {
        fact[column.field.name] = cellOf(text, column, zone);
      } catch (error) {
        note(name, error.message);
        fact[column.field.name] = undefined;
      }
    });
    for (const name of required) {
      const wrong = faults.some((one) => one.line === line && columns.find((c) => c.column === one.column)?.field.name === name);
      if (fact[name] === undefined && !wrong) note(name, t("form.missing"));
    }
    for (const piece of fact.pieces ?? []) {
      if (seen.has(piece)) note("pieces", t("set_up.table.twice", { piece, line: seen.get(piece) }));
      else if (here.has(piece)) note("pieces", t("set_up.table.here", { piece }));
      else seen.set(piece, line);
    }
    return { line, fact };
  });
  return { facts, faults };
}

function cellOf(text, { field, factor }, zone) {
  if (field.name === "type") {
    if (text !== "piece_started") throw new Error(t("set_up.table.other_type", { type: text }));
    return text;
  }
  if (field.kind === "moment") return momentOf(text, zone);
  if (field.many) return text.split(/[;\s]+/).filter(Boolean).map((part) => textOf(part, field));
  if (field.kind === "number") return numberOf(text, field, factor);
  if (field.kind === "flag") {
    if (!(text.toLowerCase() in FLAGS)) throw new Error(t("set_up.table.no_flag", { text }));
    return FLAGS[text.toLowerCase()];
  }
  if (field.kind === "choice") {
    const found = field.choices.find((one) => one === text.toLowerCase().replace(/[\s-]+/g, "_"));
    if (!found) throw new Error(t("set_up.table.no_choice", { text, choices: field.choices.join(", ") }));
    return found;
  }
  return textOf(text, field);
}

function textOf(text, field) {
  if (field.pattern && !new RegExp(field.pattern).test(text)) throw new Error(t("form.bad_word", { word: text }));
  if (field.most && text.length > field.most) throw new Error(t("set_up.table.too_long", { most: field.most }));
  return text;
}

function numberOf(text, field, factor) {
  if (!NUMBER.test(text)) throw new Error(t("set_up.table.no_number", { text }));
  const value = Math.round(Number(text) * factor * 1000) / 1000;
  if (factor === 1 && value !== Number(text)) throw new Error(t("set_up.table.decimals"));
  if (field.whole && !Number.isInteger(value)) throw new Error(t("set_up.table.no_number", { text }));
  const low = field.least ?? field.above ?? -Infinity;
  if (value < low || value === field.above || value > (field.most ?? Infinity)) throw new Error(t("form.out_of_range"));
  return value;
}

// "2026-03-02 08:30" in the shop's zone; with an offset or Z it stands by itself.
function momentOf(text, zone) {
  if (/(Z|[+-]\d\d:\d\d)$/.test(text) && !Number.isNaN(Date.parse(text))) return new Date(text).toISOString();
  const match = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(:\d\d)?$/.exec(text);
  const wanted = match && Date.parse(`${match[1]}T${match[2]}${match[3] ?? ":00"}Z`);
  if (!match || Number.isNaN(wanted)) throw new Error(t("set_up.table.no_time", { text }));
  const offsets = new Set([-24, 24].map((hours) => offsetAt(zone, wanted + hours * 3_600_000)));
  const found = [...offsets].map((offset) => wanted - offset).filter((utc) => utc + offsetAt(zone, utc) === wanted);
  if (found.length !== 1) throw new Error(t(found.length ? "set_up.table.time_twice" : "set_up.table.time_never", { text }));
  return new Date(found[0]).toISOString();
}

function offsetAt(zone, utc) {
  const format = new Intl.DateTimeFormat("en", { timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", second: "numeric" });
  const part = Object.fromEntries(format.formatToParts(utc).map(({ type, value }) => [type, Number(value)]));
  return Date.UTC(part.year, part.month - 1, part.day, part.hour, part.minute, part.second) - utc;
}

/** The id of a fact by what it says: UUIDv7 by form, a hash for the chance part (RFC 9562, 5.7). */
export function idOf(fact) {
  const sorted = Object.fromEntries(Object.entries(fact).filter(([, v]) => v !== undefined).sort(([a], [b]) => (a < b ? -1 : 1)));
  const hash = sha256(new TextEncoder().encode(JSON.stringify(sorted)));
  const ms = Date.parse(fact.occurred_at).toString(16).padStart(12, "0");
  const variant = (8 + (parseInt(hash[3], 16) & 3)).toString(16);
  return `${ms.slice(0, 8)}-${ms.slice(8)}-7${hash.slice(0, 3)}-${variant}${hash.slice(4, 7)}-${hash.slice(7, 19)}`;
}
