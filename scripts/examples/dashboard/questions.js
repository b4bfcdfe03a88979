// What the page asks: for each question its address, the parameters it takes from the form, and what
// is said of the answer in words. To ask another thing, add an entry here and its address in serve.py.

const share = (one) => one.value === null ? "none could be counted"
  : `${one.count} of ${one.of} (${percent(one.value)}; 95 % interval ${percent(one.low)} to ${percent(one.high)})`;
const percent = (value) => `${(100 * value).toFixed(value > 0 && value < .1 ? 1 : 0)} %`;
const days = (value) => value === undefined ? "?" : `${value.toFixed(1)} days`;
const few = (answer) => answer.few ? " So few pieces prove little." : "";
const readable = (word) => word.replaceAll("_", " ");
const REASONS = { hands: "in somebody’s hands", clock: "for a film to dry", closed: "while the shop was closed",
  finish: "for finish", rack: "for a place on the rack", gun: "for the gun", people: "for somebody free" };

export const QUESTIONS = [
  { id: "promised", asks: "Are promises in danger?", path: "/v1/promises", says: promised },
  { id: "apart", asks: "What comes back, and of what?", path: "/v1/quality/rework", takes: ["weeks", "by"],
    says: ({ total, ...answer }) => total.produced === 0 ? ["No piece had its final inspection in these weeks."]
      : [`Reworked: ${share(total.rework_ratio)}.${few(answer)}`, `Passed at first: ${share(total.first_pass_yield)}.`] },
  { id: "trend", asks: "Is it getting worse?", path: "/v1/quality/trend", takes: ["weeks"], says: trend },
  { id: "why", asks: "What goes with it?", path: "/v1/quality/why", takes: ["weeks"], says: why },
  { id: "time", asks: "Where does the time go?", path: "/v1/flow", takes: ["weeks"],
    also: { show: "waiting" }, says: time },
  { id: "left", asks: "How much leaves?", path: "/v1/throughput", takes: ["weeks"],
    says: (answer) => [`${answer.shipped} pieces were shipped; ${answer.in_process_total} are in process now.`] },
  { id: "stock", asks: "Will the finish last?", path: "/v1/stock", says: stock },
];

function promised({ promises }) {
  const endangered = promises.filter((one) => one.in_danger);
  if (promises.length === 0) return ["Nothing is promised at present."];
  const said = endangered.map((one) =>
    `${one.order}: told ${one.latest.ships_by}, now likely ${one.likely ?? "not to be said"}`
    + `${one.because.length ? ` (${one.because[0]})` : ""}`);
  return [`${promises.length} open; ${endangered.length} in danger.`, ...(said.length ? [said] : [])];
}

function trend({ points, change }) {
  if (points.length === 0) return ["Fewer than six weeks with something to count: nothing can be said yet."];
  if (!change?.strong) return ["No change of the rate of rework is strongly spoken for."];
  const when = change.earliest === change.latest ? `in ${change.week}`
    : `between ${change.earliest} and ${change.latest}, likeliest in ${change.week}`;
  return [`It changed ${when}: `
    + `${percent(change.before)} before, ${percent(change.after)} after.`];
}

function why({ kinds, acts }) {
  const named = kinds.flatMap((kind) => kind.candidates.filter((one) => one.named));
  if (kinds.length === 0) return ["Too few defects to compare anything."];
  if (named.length === 0) {
    return [`In ${acts} acts of coating nothing was found that chance does not give as well. Looked at: `
      + `${kinds.map((kind) => `${readable(kind.kind)} (${kind.bad})`).join(", ")}.`];
  }
  return [named.map((one) => `${one.says} A trial that would settle it: ${one.trial}`)];
}

function time({ left, lead_time: leads, spent, bottleneck }) {
  if (left === 0) return ["Nothing left in these weeks."];
  const lead = (wanted) => days(leads.find((one) => one.percent === wanted)?.days);
  const longest = spent.filter((one) => one.share > .01).sort((a, b) => b.share - a.share);
  return [`Half of ${left} pieces left within ${lead(50)}, nine of ten within ${lead(90)}.`,
    `Of a piece’s time: ${longest.map((one) => `${percent(one.share)} ${REASONS[one.reason] ?? one.reason}`).join(", ")}.`,
    ...(bottleneck ? [`What holds the work up most: ${readable(bottleneck)}.`] : [])];
}

function stock({ products }) {
  const short = products.filter((one) => one.outlook?.likely);
  if (products.length === 0) return ["No finish was received yet."];
  if (short.length === 0) return ["What is open and promised can likely be coated from the cans that are here."];
  return [short.map((one) => `${one.product} likely runs out on `
    + `${one.outlook.likely.at.slice(0, 10)}, at ${one.outlook.likely.piece}`)];
}
