// When an act happened: now, a little while ago in one tap, or at a time that is typed.
import { tapes } from "./act-form.js";
import { el } from "./standing.js";
import { t } from "./texts.js";

const MINUTES = [0, 5, 15, 30, 60, 120];

/** {node, read()}; of an act that is being put right, `was` is its time, and `at` the new one. */
export function whenNode(was = null) {
  let ago = 0;
  const input = el("input", { type: "datetime-local", id: "when-at" });
  const local = (iso) => {
    const at = new Date(iso);
    return new Date(at - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
  };
  if (was) input.value = local(was);
  const unchanged = input.value;
  const choices = MINUTES.map((minutes) => ({
    value: minutes,
    says: minutes === 0 ? t("when.now") : t("when.ago", { minutes }),
  }));
  const node = el(
    "details",
    { class: "more" },
    el("summary", {}, t(was ? "when.as_it_was" : "when.title")),
    was ? null : tapes(t("when.title"), choices, { chosen: 0, onchoose: (value) => (ago = value ?? 0) }),
    el("label", { for: "when-at" }, t("when.at")),
    input,
  );
  return {
    node,
    read: () => {
      const changed = input.value !== "" && input.value !== unchanged;
      const at = changed ? new Date(input.value) : null;
      return { at: at?.toISOString(), ago: at ? Date.now() - at : ago * 60_000 };
    },
  };
}
