// Every word a page says, from one catalogue; a translation is one more file and its name below.

const LANGUAGES = ["en"];
let words = {};
let plural = new Intl.PluralRules("en");

/** Load the catalogue of the device's language, else English, and fill in what the page holds. */
export async function loadTexts() {
  const wanted = navigator.languages.map((one) => one.slice(0, 2));
  const language = wanted.find((one) => LANGUAGES.includes(one)) ?? "en";
  const answer = await fetch(`/pages/texts.${language}.json`);
  words = await answer.json();
  plural = new Intl.PluralRules(language);
  // The region decides how numbers are written; days are written by the catalogue.
  document.documentElement.lang = navigator.languages.find((one) => one.startsWith(language)) ?? language;
  fill(document);
}

/** The text of a place such as "gun_side.undo", with {names} filled in; `count` chooses a form. */
export function t(place, values = {}) {
  const found = find(place);
  if (found === undefined) return place;
  const text = typeof found === "string" ? found : found[plural.select(values.count)] ?? found.other;
  return text.replace(/\{(\w+)\}/g, (whole, name) => String(values[name] ?? whole));
}

/** The text of a place if there is one, else the words of a name: "wet_film_um" → "wet film um". */
export function tOr(place, name, values = {}) {
  return find(place) === undefined ? name.replaceAll(/[_-]/g, " ") : t(place, values);
}

function find(place) {
  return place.split(".").reduce((at, step) => at?.[step], words);
}

/** Fill `data-text` (what is read), `data-label` (aria-label) and `data-hint` (placeholder). */
export function fill(root) {
  for (const one of root.querySelectorAll("[data-text]")) one.textContent = t(one.dataset.text);
  for (const one of root.querySelectorAll("[data-label]")) {
    one.setAttribute("aria-label", t(one.dataset.label));
  }
  for (const one of root.querySelectorAll("[data-hint]")) one.placeholder = t(one.dataset.hint);
  const title = document.querySelector("title[data-text]");
  if (title) document.title = t(title.dataset.text);
}
