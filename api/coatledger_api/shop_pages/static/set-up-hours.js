// The working hours of a week: for each weekday one stretch, or two with a break between, or closed;
// and the zone in which they are meant.
import { inputOf } from "./set-up-form.js";
import { el } from "./standing.js";
import { t } from "./texts.js";

const DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
// A start, common practice: mended by whoever works there.
const START = DAYS.slice(0, 5).map((day) => ({ day, opens: "08:00", closes: "17:00" }));

export function hoursPart(value) {
  const given = value ?? START;
  const rows = DAYS.map((day) => dayRow(day, given.filter((one) => one.day === day)));
  const node = el(
    "fieldset",
    { class: "week" },
    el("legend", { class: "unseen" }, t("fields.hours")),
    rows.map((row) => row.node),
    el("p", { class: "fault", hidden: true }),
  );
  return {
    node,
    read: () => {
      const read = rows.map((row) => row.read());
      const faults = read.flatMap((one) => one.faults).map((says) => ["hours", says]);
      return { fact: { hours: read.flatMap((one) => one.stretches) }, faults };
    },
  };
}

function dayRow(day, stretches) {
  const name = t(`words.${day}`);
  const ends = [0, 1].flatMap((n) =>
    ["opens", "closes"].map((end) => {
      const input = el("input", { type: "time", "aria-label": t(`set_up.shop.${end}_${n}`, { day: name }) });
      input.value = stretches[n]?.[end] ?? "";
      return input;
    }),
  );
  const pair = (n) => el("div", { class: "stretch" }, ends[2 * n], el("span", { "aria-hidden": "true" }, "–"), ends[2 * n + 1]);
  const node = el("div", { class: "day" }, el("strong", {}, name), pair(0), pair(1));
  return { node, read: () => readDay(day, name, ends.map((input) => input.value)) };
}

function readDay(day, name, [opens, closes, again, ends]) {
  const faults = [];
  const stretches = [];
  for (const [from, to] of [[opens, closes], [again, ends]]) {
    if (!from && !to) continue;
    if (!from || !to) faults.push(t("set_up.shop.half", { day: name }));
    else if (to <= from) faults.push(t("set_up.shop.backwards", { day: name }));
    else stretches.push({ day, opens: from, closes: to });
  }
  if (stretches.length === 2 && stretches[1].opens < stretches[0].closes) faults.push(t("set_up.shop.overlap", { day: name }));
  return { stretches, faults };
}

export function zonePart(value) {
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const zones = Intl.supportedValuesOf?.("timeZone") ?? [];
  const { node, input } = inputOf("zone", { label: t("fields.zone"), value: value ?? here, list: "zones", autocapitalize: "off" });
  node.append(el("datalist", { id: "zones" }, zones.map((zone) => el("option", { value: zone }))));
  return {
    node,
    read: () => {
      const zone = input.value.trim();
      try {
        new Intl.DateTimeFormat("en", { timeZone: zone });
      } catch {
        return { fact: {}, faults: [["zone", t("set_up.shop.no_zone")]] };
      }
      return zone ? { fact: { zone }, faults: [] } : { fact: {}, faults: [["zone", t("form.missing")]] };
    },
  };
}
