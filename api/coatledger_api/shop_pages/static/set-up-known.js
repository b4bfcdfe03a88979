// What the shop has told of itself, read back from the feed: every description that is in force now,
// and the days off. Corrections count; a description is never changed, only followed by a later one.
import { call } from "./ledger.js";

const TAGS = ["shop_described", "room_described", "gun_described", "product_described",
  "schedule_described", "offering_described", "closure_announced"];
const CORRECTIONS = ["event_voided", "event_amended"];

/** Read everything back: {shop, room, gun, product, schedule, offering, closures, pieces}. */
export async function readBack() {
  const [facts, pieces] = await Promise.all([described(), call("/v1/pieces?limit=500")]);
  const known = { shop: [], room: [], gun: [], product: [], schedule: [], offering: [], closures: [] };
  for (const fact of facts) {
    const kind = fact.type.replace("_described", "");
    if (fact.type === "closure_announced") closed(known.closures, fact);
    else known[kind] = [...known[kind].filter((one) => one[kind] !== fact[kind]), fact];
  }
  known.pieces = pieces.data.pieces;
  known.morePieces = pieces.data.next_after !== null;
  return known;
}

async function described() {
  const types = [...TAGS, ...CORRECTIONS].map((type) => `type=${type}`).join("&");
  const found = new Map();
  for (let cursor = "", more = true; more; ) {
    const { data } = await call(`/v1/events?limit=1000&${types}${cursor}`, { timeoutMs: 60_000 });
    for (const { event } of data.events) {
      if (event.type === "event_voided") found.delete(event.original);
      else if (event.type !== "event_amended") found.set(event.id, event);
      else if (found.has(event.original)) found.set(event.original, event.replacement);
    }
    cursor = `&cursor=${encodeURIComponent(data.cursor)}`;
    more = data.more;
  }
  const when = (fact) => Date.parse(fact.occurred_at);
  return [...found.values()].sort((a, b) => when(a) - when(b));
}

// A closure is taken back by the same days, cancelled.
function closed(closures, fact) {
  const at = closures.findIndex((one) => one.first_day === fact.first_day && one.last_day === fact.last_day);
  if (at >= 0) closures.splice(at, 1);
  if (!fact.cancelled) closures.push(fact);
}

/** The words of things described, for strips to choose from. */
export function words(known) {
  return Object.fromEntries(
    ["room", "gun", "product", "schedule", "offering"].map((kind) => [kind, known[kind].map((one) => one[kind])]),
  );
}
