// From what a piece's schedule asks next to the fact that says it was done: with the can, the gun
// and the room in hand, and what was chosen the last time.

const REMEMBERED = "coatledger.remembered";
// What stands behind each step of a schedule, and behind what else may come next.
export const STEPS = {
  sand: { type: "sanded", stage: "bare" },
  scuff: { type: "sanded", stage: "between_coats" },
  raise_grain: { type: "grain_raised" },
  blow_off: { type: "blown_off" },
  fill_grain: { type: "grain_filled" },
  stain: { type: "stained" },
  coat: { type: "coat_applied" },
  rub_out: { type: "rubbed_out" },
  polish: { type: "polished" },
  inspect: { type: "inspected", point: "final", passed: true, lighting: "raking" },
  pack: { type: "packed" },
  ship: { type: "shipped" },
  start: { type: "piece_started" },
  cure: { type: "dryness_checked", stage: "cured", ready: true },
  judge_defect: { type: "rework_started" },
  finish_rework: { type: "rework_finished" },
};
// What must be chosen once before one tap is enough, although the ledger does not ask for it.
const WANTED = {
  coat_applied: ["lot", "gun", "room"],
  grain_filled: ["lot"],
  stained: ["lot"],
};
const NEEDED = {
  sanded: ["stage", "grit"],
  blown_off: ["by"],
  coat_applied: ["lot"],
  packed: ["touching"],
  rework_started: ["remedy"],
  rework_finished: ["done"],
  piece_started: ["kind", "species", "coat_area_m2", "use"],
};
const KEPT_FIELDS = ["by", "cloth", "touching", "gun", "room", "method", "abrasive", "lighting",
  "using", "cup", "instrument", "carrier", "how", "device", "left_by"];
// Bare wood to P150 for a sprayed film, a scuff with P320: common practice, no published source.
const GRITS = { bare: 150, between_coats: 320 };

/** What was chosen the last time for a field of an act. */
export function remembered(name) {
  return JSON.parse(localStorage.getItem(REMEMBERED) ?? "{}")[name];
}

export function remember(name, value) {
  const all = JSON.parse(localStorage.getItem(REMEMBERED) ?? "{}");
  all[name] = value;
  localStorage.setItem(REMEMBERED, JSON.stringify(all));
}

/** Remember from a logged fact what is likely so again. */
export function learn(fact, product) {
  for (const field of KEPT_FIELDS) {
    if (fact[field] !== undefined) remember(`${fact.type}.${field}`, fact[field]);
  }
  if (fact.type === "sanded") remember(`sanded.${fact.stage}.grit`, fact.grit);
  if (fact.lot && product) remember(`lot.${product}`, fact.lot);
  for (const field of ["lot", "gun", "room"]) if (fact[field]) remember(field, fact[field]);
}

/** The fact that the next act of these pieces would be, and which of its fields nobody has said. */
export function propose(rows, shop) {
  const next = rows[0].next ?? {};
  const known = STEPS[next.act];
  if (!known) return null;
  const fact = { ...known, pieces: rows.map((row) => row.piece) };
  const fill = FILL[fact.type];
  if (fill) Object.assign(fact, fill(next, rows[0], shop, fact));
  for (const [name, value] of Object.entries(fact)) if (value === undefined) delete fact[name];
  const asked = [...(NEEDED[fact.type] ?? []), ...(WANTED[fact.type] ?? [])];
  const missing = [...new Set(asked)].filter(
    (name) => fact[name] === undefined && !(name in LISTED && shop[LISTED[name]].length === 0),
  );
  return { fact, missing };
}

const LISTED = { gun: "guns", room: "rooms" };

const FILL = {
  sanded: (next, _row, _shop, fact) => ({
    grit: next.grit ?? remembered(`sanded.${fact.stage}.grit`) ?? GRITS[fact.stage],
  }),
  blown_off: () => ({ by: remembered("blown_off.by"), cloth: remembered("blown_off.cloth") }),
  grain_filled: (next, _row, shop) => ({ lot: canFor(next.product, shop) }),
  stained: (next, _row, shop) => ({ lot: canFor(next.product, shop) }),
  coat_applied: (next, _row, shop) => {
    const lot = canFor(next.product, shop);
    const gun = gunFor(lot, shop);
    return {
      lot,
      gun,
      room: roomFor(shop),
      role: next.role ?? "build",
      method: shop.guns.find((one) => one.gun === gun)?.method,
    };
  },
  rubbed_out: (next) => ({ grit: next.grit }),
  inspected: (next) => ({
    point: (next.then ?? []).some((step) => step.act === "coat") ? "between_coats" : "final",
  }),
  packed: () => ({ touching: remembered("packed.touching") }),
  shipped: (_next, row) => ({ order: row.order, carrier: remembered("shipped.carrier") }),
  piece_started: (_next, row) => ({ kind: row.kind, species: row.species }),
};

/** The can to take for a product: the one in hand, the last one taken, the one opened last. */
export function canFor(product, shop) {
  const cans = shop.cans.filter((can) => !can.unusable && (!product || can.product === product));
  const held = [shop.hand.lot, product ? remembered(`lot.${product}`) : remembered("lot")];
  const found = held.find((lot) => cans.some((can) => can.lot === lot));
  if (found) return found;
  const opened = cans.filter((can) => can.opened_at);
  opened.sort((a, b) => (a.opened_at < b.opened_at ? 1 : -1));
  if (opened.length > 0) return opened[0].lot;
  return cans.length === 1 ? cans[0].lot : undefined;
}

function gunFor(lot, shop) {
  const known = (gun) => gun && shop.guns.some((one) => one.gun === gun);
  if (known(shop.hand.gun)) return shop.hand.gun;
  const filled = shop.guns.filter((one) => lot && one.lot === lot);
  if (filled.length === 1) return filled[0].gun;
  if (known(remembered("gun"))) return remembered("gun");
  return shop.guns.length === 1 ? shop.guns[0].gun : undefined;
}

function roomFor(shop) {
  const known = (room) => room && shop.rooms.some((one) => one.room === room);
  for (const room of [shop.hand.room, remembered("coat_applied.room"), remembered("room")]) {
    if (known(room)) return room;
  }
  return shop.rooms.length === 1 ? shop.rooms[0].room : undefined;
}

/** What the pieces look like once the acts that still wait here have arrived: best guess only. */
export function foreseen(rows, waiting) {
  const byPiece = new Map(rows.map((row) => [row.piece, row]));
  for (const { fact } of waiting) {
    for (const piece of fact.pieces ?? []) {
      const row = byPiece.get(piece);
      if (row) byPiece.set(piece, after(row, fact));
    }
  }
  return rows.map((row) => byPiece.get(row.piece));
}

function after(row, fact) {
  const next = row.next ?? {};
  const wanted = STEPS[next.act];
  const told = { ...row, waits: [...(row.waits ?? []), fact.type] };
  if (fact.type === "defect_found") return { ...told, next: { ...next, act: "judge_defect" } };
  if (fact.type === "packed") return { ...told, stage: "packed", next: { act: "ship" } };
  if (fact.type === "shipped" || fact.type === "handed_over" || fact.type === "scrapped") {
    return { ...told, stage: "shipped", next: { act: null } };
  }
  if (!wanted || wanted.type !== fact.type) return told;
  const [following, ...then] = next.then ?? [];
  if (!following) return { ...told, next: { act: null, possible: next.possible } };
  const unknown = fact.type === "coat_applied";
  return {
    ...told,
    readiness: unknown ? "wet" : row.readiness,
    coats_done: (row.coats_done ?? 0) + (unknown ? 1 : 0),
    next: { ...following, possible: next.possible, then, unclear: unknown },
  };
}
