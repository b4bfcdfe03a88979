// Times as a shop says them: in its own zone, which the service writes into every time, and as a
// range where a film decides.
import { serviceNow } from "./ledger.js";
import { t } from "./texts.js";

/** The day and the clock of an RFC 3339 time as written, in the shop's zone. */
export function wallClock(iso) {
  const [, day, time, zone] = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)[\d:.]*(Z|[+-]\d\d:\d\d)$/.exec(iso);
  return { day, time, zone };
}

/** "14:10" today, "tomorrow 08:00", "Fri 27 Nov 08:00": as near as one needs. */
export function saidTime(iso) {
  const { day, time, zone } = wallClock(iso);
  const days = (Date.parse(day) - Date.parse(dayIn(zone, serviceNow()))) / 86_400_000;
  if (days === 0) return time;
  if (days === 1) return t("times.tomorrow", { time });
  if (days === -1) return t("times.yesterday", { time });
  return t("times.on_day", { day: saidDay(day), time });
}

/** "Fri 27 Nov" of "2026-11-27". */
export function saidDay(day) {
  const at = new Date(`${day}T00:00:00Z`);
  const weekday = t(`times.weekday.${at.getUTCDay()}`);
  return t("times.day", { weekday, day: at.getUTCDate(), month: monthOf(at) });
}

/** "27 Nov 2026": a day far off. */
export function saidDate(day) {
  const at = new Date(`${day}T00:00:00Z`);
  return t("times.date", { day: at.getUTCDate(), month: monthOf(at), year: at.getUTCFullYear() });
}

const monthOf = (at) => t(`times.month.${at.getUTCMonth() + 1}`);

/** The day it is in a zone written as an offset. */
export function dayIn(zone, ms) {
  return isoIn(zone, ms).slice(0, 10);
}

/** A time as RFC 3339 writes it in a zone that is an offset. */
export function isoIn(zone, ms) {
  const sign = zone[0] === "-" ? -1 : 1;
  const [hours, minutes] = zone === "Z" ? [0, 0] : zone.slice(1).split(":").map(Number);
  return new Date(ms + sign * (hours * 60 + minutes) * 60_000).toISOString().slice(0, 19) + zone;
}

/** "not before 13:40, likely 14:20, surely by 15:30": a clock is a range, never one minute. */
export function saidRange(earliest, likely, sure) {
  return t("times.range", {
    earliest: saidTime(earliest),
    likely: saidTime(likely),
    sure: saidTime(sure),
  });
}

/** "25 min", "3 h 20 min", "2 days" of milliseconds. */
export function saidLength(ms) {
  const minutes = Math.max(0, Math.round(ms / 60_000));
  if (minutes < 60) return t("times.minutes", { minutes });
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return t("times.hours", { hours, minutes: minutes % 60 });
  return t("times.days", { days: Math.round(hours / 24) });
}
