// What came of a tap: the act, how it stands, the new clock as a range, what the rules of the trade
// say of it and what to be careful of. One piece that was wrong is taken out here.
import { call } from "./ledger.js";
import { clockFace } from "./clock-face.js";
import { details, done, named, plainWords, standing, word } from "./gun-words.js";
import { nextSaid } from "./gun-list.js";
import { el } from "./standing.js";
import { saidRange, saidTime } from "./times.js";
import { t, tOr } from "./texts.js";

const SEVERITY = { critical: "ember", serious: "ember", caution: "", note: "" };

/** The sheet of one act. `actions` = {takeOut(piece), settle(finding, how)}. */
export function afterSheet(entry, queue, answer, actions) {
  const at = new Date(entry.fact.occurred_at);
  const time = at.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  return el(
    "section",
    { class: `sheet after ${entry.state === "refused" ? "ember" : ""}`, "aria-label": t("gun.after") },
    el("h2", {}, `${done(entry.fact)} · ${named(entry.fact.pieces) || details(entry.fact)}`),
    el("p", {}, t("gun.at", { time }), " ", el("strong", {}, standing(entry, queue))),
    entry.fact.pieces ? el("p", { class: "faded" }, details(entry.fact)) : null,
    entry.clockOffMs ? el("p", {}, t("gun.clock_off")) : null,
    entry.disputes?.length ? el("p", { class: "fault" }, t("gun.disputes")) : null,
    answer ? changed(answer, entry) : null,
    (entry.findings ?? []).map((finding) => findingNode(finding, actions)),
    cautionsNode(entry.cautions, entry.deference),
    takeOutNode(entry, actions),
  );
}

/** Ask how the first piece of an act stands now; null when that is not known. */
export async function answerFor(entry) {
  const piece = entry?.fact?.pieces?.[0];
  if (!piece || entry.state !== "accepted") return null;
  try {
    return (await call(`/v1/pieces/${encodeURIComponent(piece)}`)).data;
  } catch {
    return null;
  }
}

function changed(answer, entry) {
  const parts = [];
  const coats = t("gun.coats", { done: answer.coats_done, wanted: answer.coats_wanted });
  parts.push(el("p", {}, `${answer.piece}: ${word(answer.stage)}, ${coats}. `, el("strong", {}, t("gun.next", { next: nextSaid(answer) }))));
  const coat = (answer.clock.faces ?? []).find((face) => face.coat === entry.id);
  if (coat) parts.push(clockNode(coat, answer));
  return el("div", { class: "changed" }, parts);
}

function clockNode(coat, answer) {
  const first = coat.stages.find((stage) => stage.stage === "touch_dry");
  const wrap = coat.stages.find((stage) => stage.stage === "wrap_safe");
  const recoat = coat.recoat ?? {};
  const lines = [
    rangeLine("gun.touch_dry", first),
    recoat.likely_from
      ? t("gun.recoat", {
          likely: saidTime(recoat.likely_from),
          sure: recoat.surely_from ? saidTime(recoat.surely_from) : t("gun.unknown"),
        })
      : t("gun.recoat_never"),
    rangeLine("gun.wrap_safe", wrap),
  ].filter(Boolean);
  const sandable = coat.stages.find((stage) => stage.stage === "sandable") ?? first;
  return el(
    "div",
    { class: "dries" },
    sandable?.likely ? clockFace(sandable.earliest, sandable.likely, sandable.sure, answer.clock.as_of) : null,
    el("ul", {}, lines.map((line) => el("li", {}, line))),
  );
}

function rangeLine(place, stage) {
  if (!stage) return null;
  if (!stage.likely) return t(place, { range: t("gun.never") });
  return t(place, { range: saidRange(stage.earliest ?? stage.likely, stage.likely, stage.sure ?? stage.likely) });
}

/** Oily rags stand first on every view until they are dealt with. */
export function ragsNode(box, findings, ways, log) {
  const found = findings.find((finding) => finding.code === "rags_not_dealt_with");
  box.hidden = !found;
  if (!found) return;
  const way = (how) =>
    el("button", { type: "button", class: "tape ember", onclick: () => log({ type: "rags_dealt_with", how }) }, word(how));
  box.replaceChildren(
    el("h2", {}, t("gun.rags")),
    el("p", {}, plainWords(found.seen.map((one) => one.says).join("; "))),
    el("div", { class: "tapes wide" }, ways.map(way)),
    el("details", {}, el("summary", {}, t("gun.rags_what_to_do")), el("p", {}, plainWords(found.what_to_do)), el("p", { class: "faded" }, `${found.why} (${found.source})`)),
  );
}

export function findingNode(finding, actions) {
  const settle = actions?.settle
    ? el(
        "div",
        { class: "tapes" },
        ["accepted", "wrong"].map((how) =>
          el("button", { type: "button", class: "tape plain", onclick: () => actions.settle(finding, how) }, t(`gun.settle.${how}`)),
        ),
      )
    : null;
  return el(
    "div",
    { class: `finding ${SEVERITY[finding.severity] ?? ""}` },
    el("h3", {}, t(`gun.severity.${finding.severity}`), ": ", tOr(`findings.${finding.code}`, finding.code)),
    el("p", {}, plainWords(finding.seen.map((one) => one.says).join("; "))),
    el("p", {}, el("strong", {}, plainWords(finding.what_to_do))),
    el("details", {}, el("summary", {}, t("gun.why_so")), el("p", {}, plainWords(finding.why)), el("p", { class: "faded" }, finding.source), settle),
  );
}

/** Cautions defer: they are said where the act is, and permit nothing. */
export function cautionsNode(cautions, deference) {
  if (!cautions?.length) return null;
  return el(
    "div",
    { class: "cautions" },
    el("h3", {}, t("gun.careful")),
    el("ul", {}, cautions.map((one) => el("li", {}, one.text, " ", el("span", { class: "faded" }, `(${one.source})`)))),
    el("p", { class: "faded" }, deference ?? t("gun.deference")),
  );
}

function takeOutNode(entry, actions) {
  const pieces = entry.fact.pieces ?? [];
  if (pieces.length < 2 || entry.state === "dropped" || entry.corrected === "undone") return null;
  return el(
    "details",
    { class: "takeout" },
    el("summary", {}, t("gun.one_was_wrong")),
    el("p", { class: "faded" }, t("gun.take_out_why")),
    el(
      "div",
      { class: "tapes" },
      pieces.map((piece) =>
        el("button", { type: "button", class: "tape plain", onclick: () => actions.takeOut(piece) }, t("gun.take_out", { piece })),
      ),
    ),
  );
}
