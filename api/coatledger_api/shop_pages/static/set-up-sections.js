// What hangs on the wall of a shop that is set up, in the order in which one thing needs another, and
// how the fields of each description are grouped.

export const PLACES = ["shop", "closures", "room", "gun", "product", "schedule", "offering", "pieces",
  "phone", "quote"];

const more = (name, ...fields) => ({ name, fields, folded: true });

/** The groups of fields of each kind of description. */
export const GROUPS = {
  shop: [
    { name: "place", fields: ["zone", "units"] },
    { name: "hours", fields: ["hours"] },
    { name: "people", fields: ["people", "rack_places"] },
    { name: "leaves", fields: ["pickup_days", "pickup_cutoff"] },
    { name: "level", fields: ["service_level_pct", "fallback_lead_days"] },
    { name: "holidays", fields: ["holidays"] },
  ],
  room: [
    { name: "word", fields: ["room", "name"] },
    { name: "band", fields: ["air_min_c", "air_max_c", "rh_min_pct", "rh_max_pct"] },
    more("room_more", "volume_m3", "rack_places"),
  ],
  gun: [
    { name: "word", fields: ["gun", "name"] },
    { name: "gun", fields: ["method", "body", "strip_clean_every_days", "cap_pressure_max_kpa"] },
  ],
  product: [
    { name: "word", fields: ["product", "name", "kind", "use"] },
    { name: "sheet_times", fields: ["reference_air_c", "reference_rh_pct", "reference_wet_film_um",
      "touch_dry_h", "tack_free_h", "recoat_h", "recoat_max_h", "stack_h", "wrap_h", "cure_h"] },
    { name: "sheet_film", fields: ["volume_solids_pct", "wet_film_min_um", "wet_film_max_um", "coats_min",
      "coats_max", "scuff_grit", "bare_grit_max", "burns_in"] },
    { name: "sheet_air", fields: ["mfft_c", "air_min_c", "air_max_c", "rh_min_pct", "rh_max_pct"] },
    { name: "sheet_care", fields: ["cautions"] },
    more("sheet_more", "sheet_version", "nozzle_min_mm", "nozzle_max_mm", "strain_um", "reducer_max_pct",
      "pot_life_h", "shelf_life_days", "stir", "freezes"),
  ],
  schedule: [
    { name: "word", fields: ["schedule", "name", "use", "faces"] },
    { name: "steps", fields: ["steps"] },
  ],
  offering: [
    { name: "word", fields: ["offering", "name", "skus"] },
    { name: "made", fields: ["schedule", "species", "coat_area_m2", "joinery_days"] },
    more("offering_more", "options", "paused"),
  ],
};

// Where to start: the trade's habits as computations/practice.py has them (ROOM_C, ROOM_RH_PCT,
// STRIP_CLEAN_DAYS), common practice, no published source. A finish has none: its sheet decides.
export const STARTS = {
  shop: { people: 1, service_level_pct: 80, pickup_days: ["mon", "tue", "wed", "thu", "fri"], pickup_cutoff: "15:00" },
  room: { room: "spray", air_min_c: 19, air_max_c: 24, rh_min_pct: 40, rh_max_pct: 50 },
  gun: { gun: "g1", strip_clean_every_days: 30 },
  product: {},
  schedule: {},
  offering: {},
};

/** What must hang there already before this can be told; its name, or null. */
export function needs(place, known) {
  const wanted = { schedule: ["product"], offering: ["schedule"], quote: ["shop", "offering"] }[place] ?? [];
  return wanted.find((one) => !isThere(one, known)) ?? null;
}

/** Whether something hangs at a place. */
export function isThere(place, known) {
  if (place === "quote") return false;
  return (known[place]?.length ?? 0) > 0;
}

/** What is optional stays empty without anybody being told to fill it. */
export const OPTIONAL = ["closures", "quote"];

/** An offering's options as a form has them, "matte|satin", and as the ledger has them. */
export const AS_TYPED = {
  offering: (fact) => ({ ...fact, options: mapped(fact.options, (many) => [many].flat().join("|")) }),
};
export const AS_RECORDED = {
  offering: (fact) =>
    fact.options ? { ...fact, options: mapped(fact.options, (text) => String(text).split(/[|,\s]+/).filter(Boolean)) } : fact,
};

const mapped = (pairs, turn) =>
  pairs && Object.fromEntries(Object.entries(pairs).map(([name, value]) => [name, turn(value)]));
