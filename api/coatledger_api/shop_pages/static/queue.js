// The acts logged on this device, in their order: each with its own id and time, kept before it is
// called kept, sent when there is a way, and told what became of it. The id makes an act one fact
// however often it is sent, so a lost answer, a second tab or a killed page double nothing.
import { Away, call, newId, Problem } from "./ledger.js";
import { openKeep } from "./keep.js";

const AT_ONCE = 50; // the service judges up to 100 facts of a request
const KEPT_AFTERWARDS = 200;
const WAIT_MS = [1_000, 2_000, 4_000, 8_000, 15_000, 30_000];
const LEASE = "coatledger.sending";
const LEASE_MS = 6_000;
const ME = newId();

/** Open the queue. `onChange(entry)` is told of every change, `onSent()` when something went. */
export async function openQueue({ onChange, onSent = () => {} }) {
  const queue = new Queue(await openKeep(), onChange, onSent);
  await queue.load();
  return queue;
}

class Queue {
  entries = [];
  away = false;
  stopped = null; // why nothing is sent any more until somebody does something
  #keep;
  #onChange;
  #onSent;
  #sending = false;
  #failures = 0;
  #timer = null;
  #others = "BroadcastChannel" in self ? new BroadcastChannel("coatledger.acts") : null;

  constructor(keep, onChange, onSent) {
    this.#keep = keep;
    this.#onChange = onChange;
    this.#onSent = onSent;
    this.#others?.addEventListener("message", ({ data }) => this.#refresh(data));
    for (const name of ["online", "pageshow", "focus"]) {
      addEventListener(name, () => this.send());
    }
    document.addEventListener("visibilitychange", () => document.hidden || this.send());
  }

  async load() {
    this.entries = (await this.#keep.all()).sort((a, b) => a.order - b.order);
    const done = this.entries.filter((entry) => !isOpen(entry));
    for (const old of done.slice(0, Math.max(0, done.length - KEPT_AFTERWARDS))) {
      this.entries.splice(this.entries.indexOf(old), 1);
      this.#keep.remove(old.id);
    }
    this.send();
  }

  get waiting() {
    return this.entries.filter((entry) => entry.state === "waiting");
  }

  get #sendable() {
    return this.waiting.filter((entry) => entry.kept);
  }

  get refused() {
    return this.entries.filter((entry) => entry.state === "refused");
  }

  find(id) {
    return this.entries.find((entry) => entry.id === id);
  }

  /** Log a fact that happened `ago` milliseconds ago: {type, …}. Shown at once; resolves when kept. */
  async add(fact, { ago = 0, about = null } = {}) {
    const now = Date.now();
    const id = newId(now);
    const last = this.entries.at(-1)?.order ?? 0;
    const entry = {
      id,
      order: Math.max(now, last + 1),
      fact: { ...fact, id, occurred_at: new Date(now - ago).toISOString() },
      state: "waiting",
      kept: false,
      tries: 0,
      about,
    };
    this.entries.push(entry);
    this.#onChange(entry);
    try {
      await this.#save({ ...entry, kept: true }, entry);
    } catch {
      // No room on the device: it can still be sent while the page stays open.
      Object.assign(entry, { kept: true, unkept: true });
      this.#onChange(entry);
    }
    this.send();
    return entry;
  }

  /** Take an act back: forgotten when it never left this device, else voided in the ledger. */
  async undo(id, reason = "never_happened") {
    const entry = this.find(id);
    if (entry.state === "waiting" && entry.tries === 0 && !this.#sending) {
      return this.drop(id, reason);
    }
    entry.corrected = "undone";
    await this.#save(entry);
    return this.add({ type: "event_voided", original: id, reason }, { about: id });
  }

  /** Say that an act was otherwise. What the service never took is simply sent as it should be. */
  async amend(id, fact, reason = "wrong_piece") {
    const entry = this.find(id);
    const kept = { ...fact, id, occurred_at: fact.occurred_at ?? entry.fact.occurred_at };
    if (entry.state === "refused" || (entry.state === "waiting" && entry.tries === 0)) {
      Object.assign(entry, { fact: kept, state: "waiting", problem: undefined });
      await this.#save(entry);
      this.send();
      return entry;
    }
    entry.corrected = "amended";
    entry.fact = kept;
    await this.#save(entry);
    const said = { type: "event_amended", original: id, replacement: kept, reason };
    return this.add(said, { about: id });
  }

  /** Give an act up that the ledger does not hold; the reason stays on this device. */
  async drop(id, reason) {
    const entry = this.find(id);
    Object.assign(entry, { state: "dropped", reason });
    await this.#save(entry);
    return entry;
  }

  /** Send what waits, if nobody does so already. */
  async send() {
    clearTimeout(this.#timer);
    if (this.#sending || this.#sendable.length === 0) return;
    this.#sending = true;
    try {
      if (!takeLease()) return this.#later(LEASE_MS);
      while (this.#sendable.length > 0) await this.#sendSome(this.#sendable.slice(0, AT_ONCE));
      this.#failures = 0;
      this.away = false;
    } catch (error) {
      this.#failed(error);
    } finally {
      this.#sending = false;
      dropLease();
    }
    this.#onSent();
    if (this.stopped === null && this.#sendable.length > 0) this.#later();
  }

  async #sendSome(some) {
    for (const entry of some) {
      entry.tries += 1;
      await this.#save(entry);
    }
    const events = some.map((entry) => entry.fact);
    const body = { type: "batch", events, sent_at: new Date().toISOString() };
    let told;
    try {
      told = (await call("/v1/events", { body, headers: { Prefer: "handling=lenient" } })).data;
    } catch (error) {
      if (!(error instanceof Problem) || error.passes || [401, 403].includes(error.status)) {
        throw error;
      }
      if (some.length === 1) return this.#tell(some[0], { problem: problemOf(error) }, []);
      for (const entry of some) await this.#sendSome([entry]);
      return undefined;
    }
    this.away = false;
    this.stopped = null;
    for (const [i, entry] of some.entries()) {
      await this.#tell(entry, told.events[i], told.cautions ?? [], told);
    }
    return undefined;
  }

  async #tell(entry, outcome, cautions, told = {}) {
    entry.state = outcome.problem ? "refused" : "accepted";
    entry.problem = outcome.problem;
    entry.findings = outcome.findings ?? [];
    entry.disputes = outcome.disputes ?? [];
    entry.recorded = outcome.recorded_at;
    entry.cautions = cautions.filter((one) => one.events.includes(entry.id));
    entry.deference = told.deference;
    entry.clockOffMs = told.clock_offset_ms ?? 0;
    await this.#save(entry);
  }

  #failed(error) {
    this.away = error instanceof Away;
    this.#failures += 1;
    if (error instanceof Problem && [401, 403].includes(error.status)) this.stopped = error;
    else this.#later(error instanceof Problem ? (error.retryAfterS ?? 0) * 1_000 : 0);
    this.#onChange(null);
  }

  #later(atLeastMs = 0) {
    clearTimeout(this.#timer);
    const step = WAIT_MS[Math.min(Math.max(this.#failures - 1, 0), WAIT_MS.length - 1)];
    this.#timer = setTimeout(() => this.send(), Math.max(step, atLeastMs));
  }

  async #save(entry, shown = entry) {
    if (!shown.unkept) await this.#keep.put(entry);
    Object.assign(shown, entry);
    this.#others?.postMessage(entry.id);
    this.#onChange(shown);
  }

  // Another page of this device changed an act.
  async #refresh(id) {
    const kept = await this.#keep.one(id);
    const mine = this.find(id);
    if (mine && kept) Object.assign(mine, kept);
    else if (kept) this.entries.push(kept);
    this.entries.sort((a, b) => a.order - b.order);
    this.#onChange(mine ?? kept ?? null);
  }
}

const isOpen = (entry) => entry.state === "waiting" || entry.state === "refused";

const problemOf = (error) => ({
  type: `/problems/${error.kind}`,
  title: error.title,
  status: error.status,
  detail: error.message,
  faults: error.faults,
});

// Two open pages need not both send: a courtesy, since an act sent twice is one fact all the same.
function takeLease() {
  const [who, until] = (localStorage.getItem(LEASE) ?? "").split(" ");
  const left = Number(until) - Date.now();
  if (who && who !== ME && left > 0 && left <= LEASE_MS) return false;
  localStorage.setItem(LEASE, `${ME} ${Date.now() + LEASE_MS}`);
  return true;
}

function dropLease() {
  if ((localStorage.getItem(LEASE) ?? "").startsWith(ME)) localStorage.removeItem(LEASE);
}
