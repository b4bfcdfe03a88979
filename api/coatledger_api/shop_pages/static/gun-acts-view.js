// Everything that can be logged, by what it is done to; and faults by how they look when the lamp
// rakes across from the side.
import { el, svg } from "./standing.js";
import { word } from "./gun-words.js";
import { t } from "./texts.js";

export const GROUPS = {
  pieces: ["sanded", "grain_raised", "blown_off", "grain_filled", "stained", "coat_applied", "turned",
    "moved", "dryness_checked", "rubbed_out", "polished"],
  judging: ["inspected", "defect_found", "rework_started", "rework_finished", "held", "released",
    "photo_taken", "gloss_measured"],
  leaving: ["packed", "unpacked", "shipped", "handed_over", "damage_reported", "returned", "scrapped"],
  coming: ["piece_started", "piece_expected", "condition_recorded", "wood_moisture_read"],
  can: ["lot_received", "lot_opened", "lot_stirred", "lot_strained", "lot_mixed", "viscosity_measured",
    "lot_measured", "lot_frozen", "lot_discarded"],
  gun: ["gun_set_up", "test_sprayed", "gun_flushed", "gun_strip_cleaned"],
  room: ["climate_read", "air_moved", "air_line_serviced", "rags_dealt_with"],
  office: ["order_taken", "order_changed", "order_cancelled", "piece_allotted", "promise_made",
    "promise_revised", "customer_told", "closure_announced", "person_absent", "instrument_checked",
    "finding_settled"],
};
const OF_PIECES = ["pieces", "judging", "leaving"];

/** Every act. With pieces chosen, those that none of them can have at its stage are left out. */
export function actsView(rows, onchoose) {
  const possible = rows.map((row) => row.next?.possible).filter(Boolean);
  const fits = (type) => possible.every((acts) => acts.includes(type));
  return el(
    "section",
    {},
    el("h2", { tabindex: "-1" }, t("gun.what_was_done")),
    Object.entries(GROUPS).map(([group, types]) => {
      const offered = OF_PIECES.includes(group) && rows.length > 0 ? types.filter(fits) : types;
      if (offered.length === 0) return null;
      return el(
        "div",
        {},
        el("h3", {}, t(`gun.group.${group}`)),
        el(
          "div",
          { class: "tapes wide" },
          offered.map((type) =>
            el("button", { type: "button", class: "tape", "data-type": type, onclick: () => onchoose(type) }, t(`gun.do.${type}`)),
          ),
        ),
      );
    }),
  );
}

// Faults by what the lamp shows from the side, each group with its picture.
const UNDER_THE_LAMP = {
  raised: ["nib", "hair", "raised_grain", "microfoam", "dry_spray", "rust_speck"],
  hollow: ["fish_eye", "cratering", "pinholing", "sanding_scratch", "dent", "imprint"],
  wavy: ["orange_peel", "sag", "overlap_marks", "witness_line", "wrinkling"],
  dull: ["blushing", "haze", "sheen_off"],
  coloured: ["blotch", "bleed_through", "colour_off"],
  broken: ["cracking", "lifting", "peeling", "sand_through"],
  soft: ["soft_film", "blocking"],
};

/** Choose a fault, its face and how far it goes; `onlog(fields)` is told in one tap more. */
export function defectView(rows, faces, onlog) {
  const fields = { face: "show", extent: "spot" };
  const choose = (name, values) =>
    el(
      "fieldset",
      {},
      el("legend", {}, t(`fields.${name}`)),
      el(
        "div",
        { class: "tapes" },
        values.map((value) => {
          const tape = el("button", { type: "button", class: "tape", "aria-pressed": String(fields[name] === value) }, word(value));
          tape.addEventListener("click", () => {
            fields[name] = value;
            for (const one of tape.parentElement.children) one.setAttribute("aria-pressed", String(one === tape));
          });
          return tape;
        }),
      ),
    );
  return el(
    "section",
    {},
    el("h2", { tabindex: "-1" }, t("gun.defect_on", { count: rows.length, pieces: rows.map((row) => row.piece).join(", ") })),
    el("p", { class: "faded" }, t("gun.rake")),
    choose("face", faces),
    choose("extent", ["spot", "several", "whole_face"]),
    el("p", {}, t("gun.tap_the_fault")),
    Object.entries(UNDER_THE_LAMP).map(([look, kinds]) =>
      el(
        "div",
        { class: "lamp" },
        lampPicture(look),
        el("h3", {}, t(`gun.lamp.${look}`)),
        el(
          "div",
          { class: "tapes wide" },
          kinds.map((kind) =>
            el("button", { type: "button", class: "tape", "data-kind": kind, onclick: () => onlog({ ...fields, kind }) }, word(kind)),
          ),
        ),
      ),
    ),
  );
}

// A film cut across, lit from the left: the side towards the lamp is bright, the far side dark.
const CUT = {
  raised: "M0 34H44Q50 14 56 12Q62 14 68 34H120",
  hollow: "M0 34H42Q50 36 56 50Q66 50 74 36L80 34H120",
  wavy: "M0 34Q10 24 20 34T40 34T60 34T80 34T100 34T120 34",
  dull: "M0 34H120",
  coloured: "M0 34H120",
  broken: "M0 34H48L52 54L58 34M64 34L70 56L76 34H120",
  soft: "M0 34H40Q60 48 80 34H120",
};

// Where the light does not reach.
const SHADE = {
  raised: "M57 12Q62 14 68 34H112Z",
  hollow: "M42 34Q50 36 56 50L72 38Z",
  wavy: "M11 29Q15 29 20 34L26 31ZM51 29Q55 29 60 34L66 31ZM91 29Q95 29 100 34L106 31Z",
  dull: "", coloured: "",
  broken: "M48 34L52 54L57 36ZM64 34L70 56L74 38Z",
  soft: "M40 34Q50 42 60 42L78 35Z",
};

function lampPicture(look) {
  const picture = svg("svg", { viewBox: "0 0 120 64", preserveAspectRatio: "xMinYMid", class: `cut cut-${look}`, "aria-hidden": "true", focusable: "false" });
  picture.append(
    svg("path", { d: "M0 6L120 30V34L0 22Z", class: "cut-ray" }),
    svg("path", { d: `${CUT[look]}V64H0Z`, class: "cut-film" }),
    svg("path", { d: SHADE[look], class: "cut-shade" }),
    svg("path", { d: CUT[look], class: "cut-edge" }),
  );
  if (look === "dull" || look === "coloured") {
    for (let x = 40; x < 84; x += 6) {
      picture.append(svg("line", { x1: x, y1: look === "dull" ? 30 : 38, x2: x + 4, y2: look === "dull" ? 38 : 46, class: "cut-edge" }));
    }
  }
  return picture;
}
