// What this device has logged, newest first: how each act stands, and what can still be put right.
import { details, done, named, standing } from "./gun-words.js";
import { el } from "./standing.js";
import { t } from "./texts.js";

const REASONS = ["wrong_piece", "wrong_time", "wrong_value", "entered_twice", "never_happened"];
const SHOWN = 60;

/** The list. `actions` = {undo(entry), mend(entry), drop(entry, reason), redraw()}. */
export function logView(queue, actions) {
  const entries = [...queue.entries].reverse();
  entries.sort((a, b) => (b.state === "refused") - (a.state === "refused"));
  return el(
    "section",
    {},
    el("h2", { tabindex: "-1" }, t("gun.log")),
    queue.stopped ? el("p", { class: "fault" }, t("gun.stopped")) : null,
    entries.length === 0 ? el("p", {}, t("gun.nothing_logged")) : null,
    el("ol", { class: "log" }, entries.slice(0, SHOWN).map((entry) => entryNode(entry, queue, actions))),
  );
}

function entryNode(entry, queue, actions) {
  const moment = new Date(entry.fact.occurred_at);
  const time = moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const at = t("times.on_day", { day: t(`times.weekday.${moment.getDay()}`), time });
  const what = entry.about ? t("gun.correction", { of: titleOf(queue.find(entry.about)) }) : titleOf(entry);
  return el(
    "li",
    { class: `sheet ${entry.state === "refused" ? "ember" : ""}`, "data-state": entry.state },
    el("p", {}, el("strong", {}, what), " ", el("span", { class: "faded" }, at)),
    entry.about ? null : el("p", { class: "faded" }, details(entry.fact)),
    el("p", {}, standing(entry, queue)),
    tapesOf(entry, actions),
  );
}

export function titleOf(entry) {
  if (!entry) return t("gun.an_act");
  return [done(entry.fact), named(entry.fact.pieces)].filter(Boolean).join(" · ");
}

function tapesOf(entry, actions) {
  const tape = (says, onclick, kind = "plain") => el("button", { type: "button", class: `tape ${kind}`, onclick }, says);
  if (entry.state === "refused") {
    return el(
      "div",
      { class: "tapes" },
      entry.about ? null : tape(t("gun.mend"), () => actions.mend(entry), "fresh"),
      dropNode(entry, actions, tape),
    );
  }
  if (entry.about || entry.corrected || entry.state === "dropped") return null;
  return el(
    "div",
    { class: "tapes" },
    tape(t("gun.take_back"), () => actions.undo(entry)),
    tape(t("gun.put_right"), () => actions.mend(entry)),
  );
}

function dropNode(entry, actions, tape) {
  const folded = el("details", {}, el("summary", {}, t("gun.drop")));
  folded.append(
    el("p", {}, t("gun.drop_why")),
    el("div", { class: "tapes" }, REASONS.map((reason) => tape(t(`gun.why.${reason}`), () => actions.drop(entry, reason)))),
  );
  return folded;
}

/** One line on how everything stands, for the head of the page. */
export function standingLine(queue, { away, denied, seenAt }) {
  const waiting = queue.waiting.length;
  const refused = queue.refused.length;
  const parts = [];
  if (queue.stopped || denied) parts.push(t("gun.stopped"));
  else if (away) parts.push(t("gun.away"));
  if (waiting > 0) parts.push(t("gun.n_waiting", { count: waiting }));
  if (refused > 0) parts.push(t("gun.n_refused", { count: refused }));
  if (parts.length === 0) parts.push(t("gun.all_sent"));
  if (seenAt) parts.push(t("gun.seen_at", { at: seenAt }));
  return parts.join(" · ");
}
