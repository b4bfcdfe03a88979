// The foot of the gun-side page: the likely next act, and after it the way back, in the same place.
import { propose } from "./gun-acts.js";
import { cautionsNode } from "./gun-after.js";
import { titleOf } from "./gun-log.js";
import { details, doing, saidPieces } from "./gun-words.js";
import { el } from "./standing.js";
import { saidTime } from "./times.js";
import { t } from "./texts.js";

export const tape = (says, kind, onclick, key) =>
  el("button", { type: "button", class: `tape ${kind}`, onclick, "data-key": key }, says);

/** After an act: the way back where the finger is, and the way on beside it. */
export function undoFoot(entry, actions) {
  return [
    tape(t("gun.undo", { what: titleOf(entry) }), "main", actions.undo, "main"),
    tape(t("gun.go_on"), "fresh wide", actions.goOn, "side"),
  ];
}

/** Before an act: what the chosen pieces want next, in one tap when nothing is missing. */
export function nextFoot(rows, shop, ahead, actions) {
  const step = ({ act, product, grit, role } = {}) => JSON.stringify([act, product, grit, role]);
  const alike = new Set(rows.map((row) => step(row.next)));
  const found = alike.size === 1 ? propose(rows, shop) : null;
  const other = tape(t("gun.something_else"), "plain", actions.other, "side");
  if (!found) {
    const says = alike.size > 1 ? t("gun.different") : t("gun.nothing_next");
    return [el("p", { class: "foot-says" }, says), other];
  }
  const { fact, missing } = found;
  const main = el("button", { type: "button", class: "tape fresh main", "data-key": "main" }, said(fact, missing, rows));
  main.addEventListener("click", () => (missing.length > 0 ? actions.form(fact) : actions.log(fact)));
  return [
    early(rows),
    main,
    tape(t("gun.change"), "plain", () => actions.form(fact), "change"),
    other,
    ...careful(ahead?.cautions ?? []),
  ];
}

function said(fact, missing, rows) {
  const rest =
    missing.length > 0
      ? t("gun.choose_first", { what: missing.map((name) => t(`fields.${name}`)).join(", ") })
      : details(fact) || t("gun.done_now");
  return el("span", {}, el("strong", {}, doing(fact)), ` ${saidPieces(rows)}`, el("br"), el("small", {}, rest));
}

// The clock advises and never forbids: somebody stands before the film and sees it.
function early(rows) {
  const waits = rows.find((row) => row.next?.waits_for && row.next.from_likely);
  if (!waits) return null;
  const when = saidTime(waits.next.from_sure ?? waits.next.from_likely);
  return el("p", { class: "fault foot-says" }, t("gun.early", { when }));
}

// A slip beside the others, so that the foot stays low; tapped, it is read above them.
function careful(cautions) {
  if (cautions.length === 0) return [];
  const text = el("div", { class: "foot-says careful-text", hidden: true }, cautionsNode(cautions));
  const slip = el("button", { type: "button", class: "tape plain", "aria-expanded": "false", "data-key": "careful" },
    t("gun.careful_first", { count: cautions.length }));
  slip.addEventListener("click", () => {
    text.hidden = !text.hidden;
    slip.setAttribute("aria-expanded", String(!text.hidden));
  });
  return [slip, text];
}
