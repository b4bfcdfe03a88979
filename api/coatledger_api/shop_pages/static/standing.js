// What every page does before its own work: its words, and whether this device is paired. A device
// that is not shows nothing of the shop, only how to pair it.
import { call, pairing } from "./ledger.js";
import { loadTexts, t } from "./texts.js";
import { noteShopsSystem, shopsSystemKnown } from "./units.js";

/** Make an element: `el("p", {class: "faded"}, "words", child)`. Nothing is read as markup. */
export function el(tag, given = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name in made && typeof value === "boolean") made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return made;
}

/** The same for a drawing: `svg("circle", {r: 4})`. */
export function svg(tag, given = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/** Begin a page: `show` runs when the device is paired; else `main` says how to pair it. */
export async function begin(show) {
  await loadTexts();
  if (pairing()) {
    document.documentElement.dataset.paired = "yes";
    const asked = askUnits();
    if (!shopsSystemKnown()) await asked;
    await show();
  } else {
    showUnpaired();
  }
  document.documentElement.dataset.ready = "yes";
  setTimeout(refreshFiles, 2_000);
}

// A label read where there is no signal opens the page from the browser's own store. So that a newer
// program is seen the next time, what this page was made of is asked for again while there is one.
async function refreshFiles() {
  const used = performance.getEntriesByType("resource").map((one) => new URL(one.name).pathname);
  const files = [location.pathname, ...new Set(used.filter((path) => path.startsWith("/pages/")))];
  for (const file of files) {
    try {
      await fetch(file, { cache: "no-cache" });
    } catch {
      return;
    }
  }
}

// The units are kept, so that only a device's very first page waits for them.
async function askUnits() {
  try {
    noteShopsSystem((await call("/v1/shop", { timeoutMs: 3_000 })).data.units);
  } catch {
    // the region's own units stand until the shop can be asked
  }
}

/** Say how to pair, and show nothing else. */
export function showUnpaired() {
  document.documentElement.dataset.paired = "no";
  const main = document.querySelector("main");
  main.replaceChildren(
    el("h1", {}, t("pair.not_paired")),
    el("p", {}, t("pair.how")),
    el("p", {}, el("a", { class: "tape fresh", href: "/pair" }, t("pair.go"))),
  );
}
