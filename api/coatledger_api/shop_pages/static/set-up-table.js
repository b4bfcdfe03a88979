// Pieces from a table: pasted or from a file, its columns matched by name, every fault named before
// anything is written, then recorded in batches that may be sent again.
import { buildForm, labelOf } from "./act-form.js";
import { columnsOf, factsOf, idOf, meant, tableOf } from "./csv.js";
import { call, inWords, serviceNow } from "./ledger.js";
import { pieces as allPieces } from "./gun-shop.js";
import { faultsOf } from "./set-up-record.js";
import { selectOf } from "./set-up-form.js";
import { words } from "./set-up-known.js";
import { el } from "./standing.js";
import { sha256 } from "./sha256.js";
import { system, unitOf } from "./units.js";
import { t } from "./texts.js";

const KEPT = "coatledger.table";
const AT_ONCE = 1_000;
const SHOWN = 5;
const FAULTS_SHOWN = 50;
const COMMON = ["kind", "species", "coat_area_m2", "use", "schedule"];
const EXTRA = [{ name: "type", kind: "text" }, { name: "occurred_at", kind: "moment" }];
const EXAMPLE = "pieces,kind,species,coat_area_m2,use,schedule\nBT-01 BT-02,bedside table,ash,0.9,decor,two-coats\nJB-01,jewellery box,cherry,0.2,box,two-coats";

export function tableView({ spec, known, done }) {
  const text = el("textarea", { id: "table-text", spellcheck: "false", rows: "6" });
  const file = el("input", { id: "table-file", type: "file", accept: ".csv,.tsv,.txt,text/csv" });
  const says = el("p", { class: "fault", role: "alert" });
  const rest = el("div", {});
  file.addEventListener("change", async () => {
    const bytes = new Uint8Array(await file.files[0].arrayBuffer());
    try {
      look(new TextDecoder("utf-8", { fatal: true }).decode(bytes));
    } catch {
      says.textContent = t("set_up.table.no_utf8");
    }
  });
  const look = (table) => {
    says.textContent = "";
    rest.replaceChildren();
    try {
      rest.append(matching(tableOf(table), { spec, known, done }));
      rest.querySelector("h3").focus();
    } catch (error) {
      says.textContent = error.message;
    }
  };
  return el(
    "div",
    {},
    el("p", {}, t("set_up.table.why")),
    el("pre", { class: "sheet", tabindex: "0", "aria-label": t("set_up.table.example") }, EXAMPLE),
    el("div", { class: "field" }, el("label", { for: "table-file" }, t("set_up.table.file")), file),
    el("div", { class: "field" }, el("label", { for: "table-text" }, t("set_up.table.paste")), text),
    says,
    el("button", { type: "button", class: "tape fresh", onclick: () => look(text.value) }, t("set_up.table.look")),
    rest,
  );
}

// Which column is what, what is said for all rows, and what comes of it.
function matching({ header, rows }, { spec, known, done }) {
  const columns = columnsOf([...EXTRA, ...spec.fields]);
  const saysColumn = ({ field, column }) => {
    const ft = /_(ft2|in)$/.test(column);
    return `${labelOf({ ...field, kind: "text" })}${field.kind === "number" && /_(m2|mm)$/.test(field.name) ? ` (${unitSaid(column, ft)})` : ""}`;
  };
  const choices = [["", t("set_up.table.leave_out")], ...columns.map((one) => [one.column, saysColumn(one)])];
  const own = system() === "us" ? [...columns].reverse() : columns;
  const selects = header.map((heading, n) =>
    selectOf(`column-${n}`, t("set_up.table.column", { heading }), choices, meant(heading, own, (one) => labelOf({ ...one.field, kind: "text" }))),
  );
  const fields = COMMON.map((name) => ({ ...spec.fields.find((one) => one.name === name), required: false }));
  const common = buildForm({ fields }, { fact: {}, first: COMMON, known: words(known) });
  const result = el("div", { role: "status" });
  const check = async () => result.replaceChildren(await checked(rows, {
    choice: selects.map((one) => one.select.value), columns, common: common.read().fact,
    required: spec.fields.filter((one) => one.required).map((one) => one.name),
    zone: known.shop[0]?.zone ?? "UTC",
  }, done));
  return el(
    "section",
    { class: "sheet" },
    el("h3", { tabindex: "-1" }, t("set_up.table.columns", { count: rows.length })),
    el("div", { class: "fields" }, selects.map((one) => one.node)),
    el("details", { class: "more" }, el("summary", {}, t("set_up.table.common")), common.node),
    el("button", { type: "button", class: "tape", onclick: check }, t("set_up.table.check")),
    result,
  );
}

const unitSaid = (column, us) => (us ? { ft2: "ft²", in: "in" }[column.split("_").pop()] : { m2: "m²", mm: "mm" }[column.split("_").pop()] ?? unitOf(column));

async function checked(rows, asked, done) {
  const begun = timeOf(rows, asked);
  const here = begun.again ? new Set() : new Set((await allPieces()).map((one) => one.piece));
  const { facts, faults } = factsOf(rows, { ...asked, here, at: begun.at });
  if (facts.length === 0) return el("p", { class: "fault" }, t("set_up.table.empty"));
  if (faults.length > 0) return faultsNode(faults);
  const count = facts.reduce((sum, one) => sum + one.fact.pieces.length, 0);
  const go = el("button", { type: "button", class: "tape fresh" }, t("set_up.table.record", { count }));
  const says = el("p", { role: "status" });
  const line = recording(facts, begun, says, done);
  go.addEventListener("click", async () => {
    go.disabled = true;
    go.textContent = (await line()) ? t("set_up.table.done") : t("set_up.table.go_on");
    go.disabled = go.textContent === t("set_up.table.done");
  });
  return el("div", {}, el("p", {}, t("set_up.table.sound", { count })), previewNode(facts), go, says);
}

// Rows without a time happened when this table was first looked at: kept, so that going on after the
// page was left tells the same facts.
function timeOf(rows, asked) {
  const mark = sha256(new TextEncoder().encode(JSON.stringify([rows, asked.choice, asked.common])));
  const kept = JSON.parse(localStorage.getItem(KEPT) ?? "null");
  if (kept?.mark === mark) return { mark, at: kept.at, again: true };
  return { mark, at: new Date(serviceNow()).toISOString(), again: false };
}

// One step after another; returns whether all of them are in.
function recording(facts, begun, says, done) {
  const events = facts.map(({ fact }) => {
    const whole = { ...fact, source: "import" };
    return { id: idOf(whole), ...whole };
  });
  let next = 0;
  return async () => {
    localStorage.setItem(KEPT, JSON.stringify(begun));
    while (next < events.length) {
      const step = events.slice(next, next + AT_ONCE);
      says.textContent = t("set_up.table.sending", { done: next, all: events.length });
      try {
        await call("/v1/events", { body: { type: "batch", events: step }, headers: { Prefer: "return=minimal" }, timeoutMs: 60_000 });
      } catch (error) {
        const lines = faultsOfStep(error, facts.slice(next));
        says.replaceChildren(lines ?? el("span", { class: "fault" }, inWords(error, t)), ` ${t("set_up.table.so_far", { done: next, all: events.length })}`);
        return false;
      }
      next += step.length;
    }
    localStorage.removeItem(KEPT);
    await done(t("set_up.table.recorded", { count: events.length }));
    return true;
  };
}

function faultsOfStep(error, facts) {
  if (faultsOf(error).length === 0) return null;
  const faults = error.faults.map(({ pointer, detail }) => {
    const [, , at, column = ""] = (pointer ?? "").split("/");
    return { line: facts[Number(at)]?.line ?? "?", column, says: detail };
  });
  return faultsNode(faults);
}

function faultsNode(faults) {
  const lines = faults.slice(0, FAULTS_SHOWN).map(({ line, column, says }) =>
    el("li", {}, column ? t("set_up.table.fault", { line, column, says }) : t("set_up.table.fault_of_line", { line, says })),
  );
  return el("div", { role: "alert" }, el("p", { class: "fault" }, t("set_up.table.faults", { count: faults.length })), el("ul", { class: "faults" }, lines));
}

function previewNode(facts) {
  const names = Object.keys(facts[0].fact).filter((name) => !["type", "occurred_at"].includes(name) && facts[0].fact[name] !== undefined);
  const cell = (value) => (Array.isArray(value) ? value.join(" ") : String(value ?? ""));
  return el(
    "div",
    { class: "wide-table", tabindex: "0", role: "region", "aria-label": t("set_up.table.preview") },
    el(
      "table",
      {},
      el("caption", {}, t("set_up.table.preview")),
      el("thead", {}, el("tr", {}, names.map((name) => el("th", { scope: "col" }, name)))),
      el("tbody", {}, facts.slice(0, SHOWN).map(({ fact }) => el("tr", {}, names.map((name) => el("td", {}, cell(fact[name])))))),
    ),
  );
}
