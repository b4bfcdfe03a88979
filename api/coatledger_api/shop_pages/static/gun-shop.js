// The shop as the gun-side page needs it: pieces, cans, guns, rooms, open findings. The last answer
// is kept, so that the page opens with something to choose from when there is no signal.
import { call } from "./ledger.js";

const KEPT = "coatledger.seen";
const HAND = "coatledger.hand";
const PAGE = 500;

/** An empty shop, or what this device saw of it last. */
export function lastSeen() {
  const empty = { rows: [], cans: [], guns: [], rooms: [], findings: [], seenAt: null };
  try {
    return { ...empty, ...JSON.parse(localStorage.getItem(KEPT)), hand: inHand() };
  } catch {
    return { ...empty, hand: inHand() };
  }
}

/** Ask for everything; throws when the service cannot be reached. */
export async function look() {
  const [rows, stock, guns, rooms, findings] = await Promise.all([
    pieces(),
    call("/v1/stock"),
    call("/v1/guns"),
    call("/v1/rooms"),
    call("/v1/findings"),
  ]);
  const cans = stock.data.products.flatMap((one) =>
    one.cans.map((can) => ({ ...can, product: can.product ?? one.product })),
  );
  const seen = {
    rows,
    cans,
    guns: guns.data.guns,
    rooms: rooms.data.rooms,
    findings: findings.data.findings,
    seenAt: rooms.data.as_of,
  };
  try {
    localStorage.setItem(KEPT, JSON.stringify(seen));
  } catch {
    localStorage.removeItem(KEPT); // no room for it: the page then opens empty without signal
  }
  return { ...seen, hand: handOf(seen) };
}

// Until somebody takes something in hand: the gun used last, the can it held, the only room.
function handOf({ guns, cans, rooms }) {
  const used = guns.filter((one) => one.last_used_at);
  used.sort((a, b) => (a.last_used_at < b.last_used_at ? 1 : -1));
  const lot = cans.find((can) => can.lot === used[0]?.lot && !can.unusable)?.lot;
  const room = rooms.length === 1 ? rooms[0].room : undefined;
  return { lot, gun: used[0]?.gun, room, ...inHand() };
}

/** Every piece that is here or expected. */
export async function pieces() {
  const rows = [];
  for (let after = ""; after !== null; ) {
    const query = after ? `&after=${encodeURIComponent(after)}` : "";
    const { data } = await call(`/v1/pieces?limit=${PAGE}${query}`);
    rows.push(...data.pieces);
    after = data.next_after;
  }
  return rows;
}

/** One piece that is no longer, or not yet, in the list. */
export async function lookAt(piece) {
  const { data } = await call(`/v1/pieces/${encodeURIComponent(piece)}`);
  return { ...data, ...data.facts, readiness: data.clock.readiness };
}

/** The can, gun and room in hand on this device. */
export function inHand() {
  return JSON.parse(localStorage.getItem(HAND) ?? "{}");
}

export function takeInHand(kind, word) {
  localStorage.setItem(HAND, JSON.stringify({ ...inHand(), [kind]: word }));
}

/** Rows alike in what they are and what comes next, in the order of what can be done now. */
export function batches(rows) {
  const groups = new Map();
  for (const row of rows) {
    const next = row.next ?? {};
    const order = next.act === "ship" ? row.order : null;
    const key = JSON.stringify([row.kind, row.species, next.act, next.product, next.grit, next.role,
      row.held, isReady(row), order, row.coats_done, row.waits?.length > 0]);
    if (!groups.has(key)) groups.set(key, []);
    groups.get(key).push(row);
  }
  return [...groups.values()].sort((a, b) => rank(a[0]) - rank(b[0]) || when(a[0]) - when(b[0]));
}

export function isReady(row) {
  const next = row.next ?? {};
  return !row.held && !next.unclear && !next.waits_for && Boolean(next.act);
}

/** Where a batch stands on the page: what can be done now, what dries, what leaves, what comes. */
export function shelfOf(row) {
  const act = row.next?.act;
  if (act === "start") return "to_come";
  if (act === "ship" || row.stage === "packed") return "to_leave";
  return isReady(row) ? "now" : "drying";
}

const ACTS = ["judge_defect", "finish_rework", "coat", "blow_off", "scuff", "stain", "fill_grain",
  "raise_grain", "sand", "rub_out", "polish", "inspect", "pack", "ship", "cure", "start"];
const SHELVES = ["now", "drying", "to_leave", "to_come"];

function rank(row) {
  const at = ACTS.indexOf(row.next?.act);
  return SHELVES.indexOf(shelfOf(row)) * 100 + (at < 0 ? 99 : shelfOf(row) === "drying" ? 0 : at);
}

const when = (row) => Date.parse(row.next?.from_sure ?? row.next?.from_likely ?? "") || 0;
