// A clock face with a range on it: hatched from the earliest to the sure time, a line at the likely
// one, the hand at now. It draws what stands beside it in words, so it is silent to a reader.
import { svg } from "./standing.js";
import { wallClock } from "./times.js";

const TURN = 12 * 60;

/** Draw a range of times on a face of twelve hours; one that is longer than that is left out. */
export function clockFace(earliest, likely, sure, now) {
  const face = svg("svg", { viewBox: "-60 -60 120 120", class: "face", "aria-hidden": "true", focusable: "false" });
  face.append(svg("circle", { r: 56, class: "face-rim" }));
  for (let hour = 0; hour < 12; hour += 1) {
    const [x, y] = at(hour * 60, 50);
    const [u, v] = at(hour * 60, hour % 3 ? 46 : 41);
    face.append(svg("line", { x1: x, y1: y, x2: u, y2: v, class: "face-tick" }));
  }
  const first = earliest ?? likely;
  const last = sure ?? likely;
  if (Date.parse(last) - Date.parse(now) < TURN * 60_000) {
    face.append(svg("path", { d: band(minutes(first), minutes(last)), class: "face-range" }));
    const [x, y] = at(minutes(likely), 38);
    const [u, v] = at(minutes(likely), 20);
    face.append(svg("line", { x1: x, y1: y, x2: u, y2: v, class: "face-likely" }));
  }
  const [x, y] = at(minutes(now), 34);
  face.append(svg("line", { x1: 0, y1: 0, x2: x, y2: y, class: "face-now" }), svg("circle", { r: 4, class: "face-pin" }));
  return face;
}

function minutes(iso) {
  const [hours, rest] = wallClock(iso).time.split(":").map(Number);
  return (hours % 12) * 60 + rest;
}

function at(minute, radius) {
  const angle = (minute / TURN) * 2 * Math.PI;
  return [(Math.sin(angle) * radius).toFixed(2), (-Math.cos(angle) * radius).toFixed(2)];
}

function band(from, to) {
  const wide = (to - from + TURN) % TURN > TURN / 2 ? 1 : 0;
  const [[a, b], [c, d], [e, f], [g, h]] = [at(from, 38), at(to, 38), at(to, 22), at(from, 22)];
  return `M${a} ${b}A38 38 0 ${wide} 1 ${c} ${d}L${e} ${f}A22 22 0 ${wide} 0 ${g} ${h}Z`;
}
