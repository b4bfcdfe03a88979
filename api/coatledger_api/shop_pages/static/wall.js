// The wall page: the room as it is, read from across it. It asks again when something was told or
// when what it shows ends by itself, and moves its hands in between from what it knows.
import { begin, el } from "./standing.js";
import { call, follow, inWords, serviceNow } from "./ledger.js";
import { pieces } from "./gun-shop.js";
import { isoIn, saidTime } from "./times.js";
import { t } from "./texts.js";
import { rackNode } from "./wall-rack.js";
import { airNodes, burningNode, dangerNode, gunsNode, todayNode, touchNode } from "./wall-beside.js";

const HANDS_MS = 20_000; // how often hands and "now" move
const GATHER_MS = 1_200; // events that come together are one look
const ASK_AT_LEAST_MS = 5 * 60_000;
const AGAIN_MS = 10_000; // after a look that failed

let seen = null;
let state = "live";
let problem = null;
let waiting = null;
let looking = false;

begin(async () => {
  await look();
  follow({ onEvent: () => soon(GATHER_MS), onState: (next) => stands(next) });
  setInterval(draw, HANDS_MS);
  document.addEventListener("visibilitychange", draw); // a screen that was off shows old hands
});

/** Look again in a while; several wishes within it are one look. */
function soon(ms) {
  if (waiting === null || waiting.at > Date.now() + ms) {
    clearTimeout(waiting?.timer);
    waiting = { at: Date.now() + ms, timer: setTimeout(look, ms) };
  }
}

async function look() {
  waiting = null;
  if (looking) return soon(GATHER_MS);
  looking = true;
  try {
    const [rows, ...rest] = await Promise.all([
      pieces(),
      ...["clocks", "rooms", "guns", "findings", "stock"].map((one) => call(`/v1/${one}`)),
    ]);
    const [clocks, rooms, guns, findings, stock] = rest.map((one) => one.data);
    seen = { ...seen, rows, clocks, rooms, guns, findings, stock };
    problem = null;
    draw(); // the rack need not wait for what simulates the whole shop
    const [plan, promises] = await Promise.all([
      call("/v1/day-plan"),
      call("/v1/promises").catch(() => null), // not every key may ask, and not every shop can say
    ]);
    seen = { ...seen, plan: plan.data, promises: promises?.data };
    soon(endsIn(clocks.valid_until, plan.data.valid_until));
  } catch (error) {
    problem = inWords(error, t);
    soon(AGAIN_MS);
  } finally {
    looking = false;
  }
  draw();
}

// An answer holds until its time; a clock that is off must not make us ask without a pause.
function endsIn(...times) {
  const ends = times.filter(Boolean).map((one) => Date.parse(one) - serviceNow() + 1_000);
  return Math.min(ASK_AT_LEAST_MS, ...ends.map((ms) => Math.max(AGAIN_MS, ms)));
}

function stands(next) {
  if (state !== "live" && next === "live") soon(0);
  state = next;
  draw();
}

function draw() {
  const header = document.querySelector("header");
  header.dataset.state = problem || state !== "live" ? "stale" : "live";
  document.getElementById("says").textContent = standing();
  if (!seen) return;
  const zone = seen.clocks.as_of.slice(-6).replace(/.*Z$/, "Z");
  document.getElementById("now").textContent = saidTime(isoIn(zone, serviceNow()));
  document.getElementById("air").replaceChildren(...airNodes(seen.rooms.rooms));
  fill("burning", burningNode(seen.findings.findings));
  fill("rack", rackNode(seen.clocks.clocks, serviceNow()));
  fill("touch", touchNode(seen.rows));
  // An empty place would read as nothing to do and nothing in danger, which nobody knows yet.
  fill("today", seen.plan ? todayNode(seen.plan, serviceNow()) : el("p", {}, t("wall.working_out")));
  fill("guns", gunsNode(seen.guns.guns, seen.stock.products));
  fill("danger", promisesNode());
}

// Null when nothing is in danger; what was not answered is said, for an empty wall says all is well.
function promisesNode() {
  if (seen.promises) return dangerNode(seen.promises.promises);
  return el("p", {}, t(seen.plan ? "wall.danger_unknown" : "wall.working_out"));
}

function standing() {
  if (!seen) return problem ?? t("wall.asking");
  const at = saidTime(seen.clocks.as_of);
  if (problem) return t("wall.old", { at, why: problem });
  return t(`wall.${state}`, { at });
}

// What stands below the heading of a section; a section with nothing to say is not there.
function fill(id, node) {
  const place = document.getElementById(id);
  place.hidden = node === null;
  place.querySelectorAll(":scope > :not(h2)").forEach((one) => one.remove());
  if (node) place.append(node);
}

