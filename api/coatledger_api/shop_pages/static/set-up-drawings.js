// What hangs on the wall of a shop, in a few lines each: an outline where the hook is still empty,
// the thing itself where it hangs.
import { svg } from "./standing.js";

const SHAPES = {
  shop: ["M32 10a22 22 0 1 0 .1 0z", "M32 18v14l9 6"],
  closures: ["M12 24h40v28h-40z", "M22 24l10-14 10 14M20 38h24"],
  room: ["M27 8h10v30a10 10 0 1 1-10 0z", "M32 18v22"],
  gun: ["M8 20h36l6 5-6 5h-8l-5 24h-11l5-24h-17z", "M14 8h16v12h-16z"],
  product: ["M14 18h36v36h-36z", "M14 18c0-16 36-16 36 0M14 30h36"],
  schedule: ["M14 12h36v44h-36z", "M24 8h16v8h-16zM20 26h24M20 36h24M20 46h16"],
  offering: ["M8 34l22-24h24v22l-24 24z", "M45 19a2 2 0 1 0 .1 0z"],
  pieces: ["M8 20h48v8h-48z", "M14 28v28M50 28v28M14 42h36"],
  phone: ["M20 6h24v52h-24z", "M20 14h24M20 48h24"],
  quote: ["M10 14h44v30h-24l-10 12v-12h-10z", "M18 24h28M18 33h18"],
};

/** The drawing of a place; nobody needs to hear it, its words stand beside it. */
export function drawing(place) {
  const [outline, inner] = SHAPES[place];
  return svg(
    "svg",
    { viewBox: "0 0 64 64", "aria-hidden": "true", class: "drawing" },
    svg("path", { d: outline, class: "outline" }),
    svg("path", { d: inner, class: "inner" }),
  );
}
