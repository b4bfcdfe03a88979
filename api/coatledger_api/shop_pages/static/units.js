// What the shop reads on its own gauges: metric, or °F, mil, fl oz and ft². The ledger holds metric
// alone; here it is turned into what is shown, and back into what is recorded.

const KEPT = "coatledger.units";
const SHOPS = "coatledger.units-of-shop";
const SAME = { to: (x) => x, from: (x) => x };
// Exact by definition: inch 25.4 mm, foot 0.3048 m, US fluid ounce 29.5735295625 mL,
// pound-force per square inch 6.894757293168 kPa (NIST SP 811, appendix B).
const times = (factor) => ({ to: (x) => x * factor, from: (x) => x / factor });
const SYSTEMS = {
  metric: {
    c: { unit: "°C", digits: 1, ...SAME },
    um: { unit: "µm", digits: 0, ...SAME },
    mm: { unit: "mm", digits: 1, ...SAME },
    m: { unit: "m", digits: 2, ...SAME },
    m2: { unit: "m²", digits: 2, ...SAME },
    m3: { unit: "m³", digits: 1, ...SAME },
    l: { unit: "L", digits: 2, ...SAME },
    kpa: { unit: "kPa", digits: 0, ...SAME },
  },
  us: {
    c: { unit: "°F", digits: 0, to: (x) => x * 1.8 + 32, from: (x) => (x - 32) / 1.8 },
    um: { unit: "mil", digits: 1, ...times(1 / 25.4) },
    mm: { unit: "in", digits: 3, ...times(1 / 25.4) },
    m: { unit: "ft", digits: 1, ...times(1 / 0.3048) },
    m2: { unit: "ft²", digits: 1, ...times(1 / 0.3048 ** 2) },
    m3: { unit: "ft³", digits: 0, ...times(1 / 0.3048 ** 3) },
    l: { unit: "fl oz", digits: 1, ...times(1000 / 29.5735295625) },
    kpa: { unit: "psi", digits: 1, ...times(1 / 6.894757293168) },
  },
};
const BOTH = {
  pct: { unit: "%", digits: 0, ...SAME },
  h: { unit: "h", digits: 1, ...SAME },
  min: { unit: "min", digits: 0, ...SAME },
  s: { unit: "s", digits: 0, ...SAME },
};

/** "metric" or "us": what this device chose, else the shop's own, else what the region uses. */
export function system() {
  for (const name of [KEPT, SHOPS]) {
    const kept = localStorage.getItem(name);
    if (kept in SYSTEMS) return kept;
  }
  return /-(US|LR|MM)$/i.test(navigator.language) ? "us" : "metric";
}

/** Choose for this device; null goes back to the shop's own. */
export function useSystem(name) {
  if (name === null) localStorage.removeItem(KEPT);
  else if (name in SYSTEMS) localStorage.setItem(KEPT, name);
  else throw new Error(`no system of units is called ${name}`);
}

/** What this device chose itself; null when it follows the shop. */
export function ownSystem() {
  return localStorage.getItem(KEPT);
}

export function noteShopsSystem(name) {
  localStorage.setItem(SHOPS, name);
}

export function shopsSystemKnown() {
  return localStorage.getItem(SHOPS) !== null;
}

function kindOf(kind) {
  return BOTH[kind] ?? SYSTEMS[system()][kind];
}

/** The unit a field of the ledger is shown in: `unitOf("um")`, or of a name, "wet_film_um". */
export function unitOf(kind) {
  return kindOf(kindIn(kind))?.unit ?? "";
}

/** The kind of quantity a field's name ends in: "um" of "wet_film_um"; null when it is none. */
export function kindIn(name) {
  const last = name.split("_").pop();
  return kindOf(last) ? last : null;
}

/** "82 µm" of 82 and "um"; "3.2 mil" where the shop reads mils. */
export function shown(value, kind) {
  if (value === null || value === undefined) return "";
  return `${plain(value, kind)} ${unitOf(kind)}`;
}

/** The number alone, in the shop's unit. */
export function plain(value, kind) {
  const { to, digits } = kindOf(kind);
  return new Intl.NumberFormat(document.documentElement.lang || "en", {
    maximumFractionDigits: digits,
  }).format(to(value));
}

/** What a person typed (a comma counts as a point), in the ledger's unit; null when no number. */
export function recorded(text, kind) {
  const value = Number(String(text).trim().replace(",", "."));
  if (String(text).trim() === "" || !Number.isFinite(value)) return null;
  return Math.round(kindOf(kind).from(value) * 1000) / 1000;
}
