// Recording from the set-up page: one batch, whole or not at all, and safe to send again; and where
// the faults of a form are shown: at their fields.
import { call, newId, Problem, serviceNow } from "./ledger.js";

/** Make of what a form says the facts to record, the same ones when it says the same again. */
export function recorder() {
  let said = null;
  let made = null;
  return async (facts) => {
    const text = JSON.stringify(facts);
    if (text !== said) {
      said = text;
      const now = serviceNow();
      const occurred_at = new Date(now).toISOString();
      made = facts.map((fact) => ({ id: newId(now), occurred_at, source: "office", ...fact }));
    }
    return (await call("/v1/events", { body: { type: "batch", events: made } })).data;
  };
}

/** The faults of a refusal by the field they stand at: [[field, says], …]; "" is no field's. */
export function faultsOf(error) {
  if (!(error instanceof Problem)) return [];
  return error.faults.map(({ pointer = "", detail }) => {
    const steps = pointer.split("/").slice(1);
    if (steps[0] === "events") steps.splice(0, 2);
    return [steps[0] ?? "", detail];
  });
}

/** Show faults at their fields and go to the first; returns those that have no field here. */
export function showFaults(node, faults) {
  clearFaults(node);
  const left = [];
  let first = null;
  for (const [name, says] of faults) {
    const field = [...node.querySelectorAll("[data-field]")].find((one) => one.dataset.field === name);
    if (!field) {
      left.push([name, says]);
      continue;
    }
    const place = field.querySelector(".fault") ?? field.appendChild(document.createElement("p"));
    place.className = "fault";
    place.textContent = says;
    place.hidden = false;
    const input = field.querySelector("input, select, textarea");
    input?.setAttribute("aria-invalid", "true");
    if (input && place.id) input.setAttribute("aria-errormessage", place.id);
    for (let at = field; at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
    first ??= field.querySelector("input, select, textarea, button");
  }
  first?.focus();
  return left;
}

function clearFaults(node) {
  for (const one of node.querySelectorAll(".fault")) {
    one.textContent = "";
    one.hidden = true;
  }
  for (const one of node.querySelectorAll("[aria-invalid=true]")) one.setAttribute("aria-invalid", "false");
}
