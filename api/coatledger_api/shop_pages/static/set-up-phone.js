// A phone for the bench: its code as a picture, good for ten minutes and for one device, and which
// devices were paired already.
import { call, inWords, may } from "./ledger.js";
import { inputOf, selectOf } from "./set-up-form.js";
import { faultsOf, showFaults } from "./set-up-record.js";
import { el } from "./standing.js";
import { saidTime } from "./times.js";
import { t } from "./texts.js";

const LOOK_EVERY_MS = 1_500;
const SCOPES = { bench: ["record", "read"], wall: ["read"], office: ["record", "read", "promise", "admin"] };

export function phoneView({ known, done }) {
  if (!may("admin")) return el("p", { class: "sheet" }, t("set_up.phone.no_admin"));
  const name = inputOf("name", { label: t("set_up.phone.name"), value: t("set_up.phone.name_start"), maxlength: "80" });
  const role = selectOf("scopes", t("set_up.phone.may"), Object.keys(SCOPES).map((one) => [one, t(`set_up.phone.${one}`)]));
  const base = inputOf("base", { label: t("set_up.phone.base"), hint: t("set_up.phone.base_hint"), value: location.origin, inputmode: "url" });
  const says = el("p", { class: "fault", role: "alert" });
  const shows = el("div", { class: "code", role: "status" });
  const form = el(
    "form",
    { class: "sheet", novalidate: true, "aria-label": t("set_up.phone.new") },
    el("h3", { tabindex: "-1" }, t("set_up.phone.new")),
    el("div", { class: "fields" }, name.node, role.node, base.node),
    /^(localhost|127\.|\[::1\])/.test(location.hostname) ? el("p", {}, t("set_up.phone.here_only")) : null,
    says,
    el("button", { class: "tape fresh" }, t("set_up.phone.show")),
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    says.textContent = "";
    showFaults(form, name.input.value.trim() ? [] : [["name", t("form.missing")]]);
    if (!name.input.value.trim()) return;
    const body = { name: name.input.value.trim(), scopes: SCOPES[role.select.value], base: reached(base.input.value) };
    try {
      const { data } = await call("/v1/pairings", { body });
      showCode(shows, data);
      waitFor(data, shows, done);
    } catch (error) {
      const rest = showFaults(form, faultsOf(error));
      says.textContent = rest.map(([, told]) => told).join("; ") || (faultsOf(error).length ? "" : inWords(error, t));
    }
  });
  const paired = known.phone ?? [];
  return el(
    "div",
    {},
    el("ul", { class: "hung" }, paired.map((one) => deviceNode(one, says, done))),
    form,
    shows,
  );
}

function deviceNode({ name, claimed_at, key }, says, done) {
  const end = async () => {
    try {
      await call(`/v1/keys/${encodeURIComponent(key)}`, { method: "DELETE" });
      await done(t("set_up.phone.ended", { name }));
    } catch (error) {
      says.textContent = inWords(error, t);
    }
  };
  return el(
    "li",
    {},
    el("p", {}, el("strong", {}, name), " ", el("span", { class: "faded" }, t("set_up.phone.since", { time: saidTime(claimed_at) }))),
    el("button", { type: "button", class: "tape plain", onclick: end }, t("set_up.phone.end", { name })),
  );
}

// "192.168.1.20:8700" is meant as an address of plain HTTP, which is what a shop's own network has.
function reached(text) {
  const base = text.trim().replace(/\/$/, "");
  return /^https?:/.test(base) ? base : "http://" + base;
}

function showCode(place, made) {
  const picture = el("img", { src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(made.qr)}`, alt: t("set_up.phone.picture", { name: made.name }) });
  place.replaceChildren(
    el("p", {}, t("set_up.phone.point", { time: saidTime(made.ends_at) })),
    picture,
    el("p", {}, t("set_up.phone.or_type", { base: new URL(made.link).origin }), " ", el("strong", { class: "number" }, made.code)),
  );
}

// Ask until it was read, is over, or is shown no more.
async function waitFor(made, place, done) {
  while (place.isConnected && Date.parse(made.ends_at) > Date.now()) {
    await new Promise((resolve) => setTimeout(resolve, LOOK_EVERY_MS));
    try {
      const { data } = await call("/v1/pairings");
      const one = data.pairings.find((pairing) => pairing.pairing === made.pairing);
      if (one?.claimed_at) return await done(t("set_up.phone.paired", { name: one.name }));
    } catch {
      // asked again in a moment
    }
  }
}

/** The devices whose key is still good, newest first; none where this key may not ask. */
export async function pairedDevices() {
  if (!may("admin")) return [];
  const [paired, keys] = await Promise.all([call("/v1/pairings"), call("/v1/keys")]);
  const ended = new Set(keys.data.keys.filter((one) => one.revoked_at).map((one) => one.key));
  return paired.data.pairings.filter((one) => one.claimed_at && !ended.has(one.key));
}
