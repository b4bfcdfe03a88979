// The rack of work: batches in the order of what can be done now, each chosen in one touch, its
// pieces singly in and out.
import { batches, shelfOf } from "./gun-shop.js";
import { el } from "./standing.js";
import { saidPieces, saidWhen, word } from "./gun-words.js";
import { t, tOr } from "./texts.js";

const SHELVES = ["now", "drying", "to_leave", "to_come"];

/** Draw the rack. `chosen` is a set of words; `onchoose()` is told when it changed. */
export function rackOf(rows, chosen, onchoose) {
  const byShelf = new Map(SHELVES.map((shelf) => [shelf, []]));
  for (const batch of batches(rows)) byShelf.get(shelfOf(batch[0])).push(batch);
  return SHELVES.filter((shelf) => byShelf.get(shelf).length > 0).map((shelf) =>
    shelfNode(shelf, byShelf.get(shelf), chosen, onchoose),
  );
}

function shelfNode(shelf, found, chosen, onchoose) {
  const rack = el("ul", { class: "rack" }, found.map((batch) => batchNode(batch, chosen, onchoose)));
  const count = found.reduce((sum, batch) => sum + batch.length, 0);
  const heading = t(`gun.shelf.${shelf}`, { count });
  if (shelf === "now" || shelf === "drying") {
    return el("section", { class: "shelf" }, el("h2", {}, heading), rack);
  }
  const held = found.some((batch) => batch.some((row) => chosen.has(row.piece)));
  const folded = el("details", { class: "shelf" }, el("summary", {}, heading), rack);
  folded.open = held;
  return folded;
}

function batchNode(batch, chosen, onchoose) {
  const first = batch[0];
  const singles = el("div", { class: "tapes singles" });
  const head = el(
    "button",
    { type: "button", class: "batch", "data-key": `batch-${first.piece}` },
    el("span", { class: `film film-${(first.readiness ?? "none").replace("_", "-")}`, "aria-hidden": "true" }),
    el(
      "span",
      { class: "batch-says" },
      el("strong", {}, nextSaid(first)),
      el("span", {}, saidPieces(batch)),
      el("span", { class: "faded" }, [stateSaid(first), saidWhen(first)].filter(Boolean).join(" · ")),
    ),
  );
  const show = () => {
    const some = batch.filter((row) => chosen.has(row.piece)).length;
    head.setAttribute("aria-pressed", some === batch.length ? "true" : some > 0 ? "mixed" : "false");
    const wanted = some > 0 && batch.length > 1;
    if (wanted && singles.childElementCount === 0) singles.append(...batch.map(single));
    for (const tape of singles.children) {
      tape.setAttribute("aria-pressed", String(chosen.has(tape.dataset.piece)));
    }
    singles.hidden = !wanted;
  };
  const single = (row) => {
    const tape = el("button", { type: "button", class: "tape", "data-piece": row.piece }, row.piece);
    tape.addEventListener("click", () => {
      if (!chosen.delete(row.piece)) chosen.add(row.piece);
      show();
      onchoose();
    });
    return tape;
  };
  head.addEventListener("click", () => {
    const all = batch.every((row) => chosen.has(row.piece));
    for (const row of batch) all ? chosen.delete(row.piece) : chosen.add(row.piece);
    show();
    onchoose();
  });
  show();
  return el("li", {}, head, singles);
}

/** "Scuff P320", "Coat: sealer", "Pack": what the schedule asks next. */
export function nextSaid(row) {
  const next = row.next ?? {};
  if (!next.act) return t("gun.step.none");
  const said = tOr(`gun.step.${next.act}`, next.act);
  const more = [next.grit ? `P${next.grit}` : null, next.role ? word(next.role) : null, next.product];
  return [said, ...more.filter(Boolean)].join(" · ");
}

function stateSaid(row) {
  const coats = row.coats_wanted ? t("gun.coats", { done: row.coats_done ?? 0, wanted: row.coats_wanted }) : null;
  const dry = row.readiness && row.readiness !== "bare" ? word(row.readiness) : word(row.stage ?? "bare");
  const order = row.next?.act === "ship" && row.order ? t("gun.order", { order: row.order }) : null;
  const waits = row.waits ? t("gun.row_waits") : null;
  return [dry, coats, order, waits].filter(Boolean).join(" · ");
}
