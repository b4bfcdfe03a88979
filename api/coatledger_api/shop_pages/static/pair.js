// Pairs this device: the code comes behind the # of a picture on the office screen, or is typed.
// The key that it is changed for stays on this device and is never part of an address.
import { call, forgetPairing, inWords, keepPairing, pairing } from "./ledger.js";
import { el } from "./standing.js";
import { loadTexts, t } from "./texts.js";

const form = document.querySelector("form");
const code = document.querySelector("#code");
const says = document.querySelector("#says");
const paired = document.querySelector("#paired");

function showPaired() {
  const kept = pairing();
  form.hidden = kept !== null;
  paired.hidden = kept === null;
  if (!kept) return;
  paired.replaceChildren(
    el("h2", {}, t("pair.paired", { name: kept.name })),
    el(
      "ul",
      { class: "tapes wide" },
      ["gun_side", "wall", "life", "set_up"].map((page) =>
        el(
          "li",
          {},
          el("a", { class: "tape fresh", href: `/${page.replace("_", "-")}` }, t(`pages.${page}`)),
        ),
      ),
    ),
    el("p", { class: "faded" }, t("pair.unpair_why")),
    el("button", { class: "tape plain", type: "button", onclick: unpair }, t("pair.unpair")),
  );
}

function unpair() {
  forgetPairing();
  says.textContent = t("pair.unpaired");
  showPaired();
}

async function claim(text) {
  says.textContent = t("pair.asking");
  try {
    const { data } = await call("/v1/pairings/claim", { body: { code: text }, open: true });
    keepPairing({ token: data.token, name: data.name, scopes: data.scopes });
    says.textContent = "";
    showPaired();
    paired.querySelector("a").focus();
  } catch (error) {
    says.textContent = inWords(error, t);
  }
}

await loadTexts();
showPaired();
const behind = decodeURIComponent(location.hash.slice(1));
if (behind) {
  // A code is used once, and need not stay in the list of pages visited.
  history.replaceState(null, "", location.pathname);
  code.value = behind;
  if (!pairing()) await claim(behind);
  else says.textContent = t("pair.already");
}
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const text = code.value.trim();
  if (text) claim(text);
});
document.documentElement.dataset.ready = "yes";
