// The public addresses of the service, as every page asks them: with this device's own key, in
// words when something goes wrong, and knowing how far this device's clock is off.

const KEY = "coatledger.key";
const STALE_AFTER_MS = 40_000; // the stream says something every 15 s
let offsetMs = 0; // the service's clock minus ours

/** What the device was paired as: {token, name, scopes}, or null. */
export function pairing() {
  try {
    return JSON.parse(localStorage.getItem(KEY));
  } catch {
    return null;
  }
}

export function keepPairing(given) {
  localStorage.setItem(KEY, JSON.stringify(given));
}

export function forgetPairing() {
  localStorage.removeItem(KEY);
}

export function may(scope) {
  return pairing()?.scopes?.includes(scope) ?? false;
}

/** The service's present time as far as this device knows it, in milliseconds. */
export function serviceNow() {
  return Date.now() + offsetMs;
}

/** What the service answered that is not a success: RFC 9457 problem details with its words. */
export class Problem extends Error {
  constructor(status, body, retryAfterS = null) {
    super(body?.detail ?? `HTTP ${status}`);
    this.status = status;
    this.kind = (body?.type ?? "").split("/").pop() || "unknown";
    this.title = body?.title ?? "";
    this.faults = body?.faults ?? [];
    this.retryAfterS = retryAfterS;
  }

  /** Whether the same request may succeed later, or on another way. */
  get passes() {
    return this.status === 429 || this.status >= 500;
  }
}

/** The service could not be reached; what was asked may or may not have arrived. */
export class Away extends Error {}

/** Ask an address. `body` makes it a POST; answers {data, headers, status} or throws. `as: "blob"`
    leaves the bytes as they came. */
export async function call(path, options = {}) {
  const { body, method = body === undefined ? "GET" : "POST", headers = {}, timeoutMs = 15_000 } =
    options;
  const sent = { Accept: "application/json", ...headers };
  const kept = pairing();
  if (kept && options.open !== true) sent.Authorization = `Bearer ${kept.token}`;
  if (body !== undefined) sent["Content-Type"] = "application/json";
  const ends = new AbortController();
  const timer = setTimeout(() => ends.abort(), timeoutMs);
  const asked = Date.now();
  try {
    const answer = await fetch(path, {
      method,
      headers: sent,
      body: body === undefined ? undefined : JSON.stringify(body),
      signal: ends.signal,
      cache: "no-store",
      credentials: "omit",
      keepalive: options.keepalive === true,
    });
    noteClock(answer.headers.get("date"), asked, Date.now());
    const data = options.as === "blob" && answer.ok ? await answer.blob() : await dataOf(answer);
    if (!answer.ok) {
      throw new Problem(answer.status, data, Number(answer.headers.get("retry-after")) || null);
    }
    return { data, headers: answer.headers, status: answer.status };
  } catch (error) {
    if (error instanceof Problem) throw error;
    throw new Away(error.message);
  } finally {
    clearTimeout(timer);
  }
}

async function dataOf(answer) {
  const type = answer.headers.get("content-type") ?? "";
  if (answer.status === 204) return null;
  return /json/.test(type) ? answer.json() : answer.text();
}

// Date has whole seconds: it was some half a second ago, half the way back.
function noteClock(date, asked, answered) {
  const said = Date.parse(date ?? "");
  if (Number.isNaN(said) || answered - asked > 5_000) return;
  const found = said + 500 - (asked + answered) / 2;
  offsetMs = Math.abs(found) < 2_000 ? 0 : found;
}

/** Say what went wrong in one sentence a person can act on; `t` is that of texts.js. */
export function inWords(error, t) {
  if (error instanceof Away) return t("ledger.away");
  if (!(error instanceof Problem)) return String(error?.message ?? error);
  if (error.status === 401) return t("ledger.unpaired");
  if (error.status === 403) return t("ledger.not_allowed", { detail: error.message });
  const faults = error.faults.map((fault) => fault.detail);
  return faults.length > 1 ? `${error.title}: ${faults.join("; ")}` : error.message;
}

/**
 * Follow the feed over a stream that a key can go with. `onEvent` gets {id, type, data}; `onState`
 * gets "live", "stale" (nothing heard for a while) or "away". Returns what ends it.
 */
export function follow({ onEvent, onState = () => {}, types = [], cursor = null }) {
  let last = cursor;
  let ended = false;
  let abort = null;
  let state = null;
  let stale = null;
  let retryMs = 2_000;
  const say = (next) => {
    if (next !== state) onState((state = next));
  };
  const heard = () => {
    clearTimeout(stale);
    stale = setTimeout(() => {
      say("stale");
      abort?.abort();
    }, STALE_AFTER_MS);
    say("live");
  };
  const query = types.map((type) => `type=${encodeURIComponent(type)}`).join("&");

  const read = async () => {
    abort = new AbortController();
    const headers = { Accept: "text/event-stream" };
    const kept = pairing();
    if (kept) headers.Authorization = `Bearer ${kept.token}`;
    if (last) headers["Last-Event-ID"] = last;
    const answer = await fetch(`/v1/events/stream${query ? `?${query}` : ""}`, {
      headers,
      signal: abort.signal,
      cache: "no-store",
      credentials: "omit",
    });
    if (!answer.ok) throw new Problem(answer.status, await dataOf(answer).catch(() => null));
    const reader = answer.body.getReader();
    const decoder = new TextDecoder();
    let waiting = "";
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      heard();
      waiting += decoder.decode(value, { stream: true });
      const parts = waiting.split("\n\n");
      waiting = parts.pop();
      for (const part of parts) tell(part);
    }
  };

  const tell = (text) => {
    const fields = {};
    for (const line of text.split("\n")) {
      const at = line.indexOf(":");
      if (at > 0) fields[line.slice(0, at)] = line.slice(at + 1).trimStart();
    }
    if (fields.retry) retryMs = Number(fields.retry) || retryMs;
    if (fields.id) last = fields.id;
    if (fields.data) onEvent({ id: fields.id, type: fields.event, data: JSON.parse(fields.data) });
  };

  const run = async () => {
    while (!ended) {
      try {
        await read();
      } catch (error) {
        if (error instanceof Problem && error.kind === "feed_rewound") last = null;
        if (error instanceof Problem && [401, 403].includes(error.status)) {
          say("away");
          return;
        }
      }
      if (ended) return;
      clearTimeout(stale);
      say("away");
      await pause(retryMs);
    }
  };
  run();
  return () => {
    ended = true;
    clearTimeout(stale);
    abort?.abort();
  };
}

/** Wait so long, or until there is a network again. */
function pause(ms) {
  return new Promise((resolve) => {
    const over = () => {
      clearTimeout(timer);
      removeEventListener("online", over);
      resolve();
    };
    const timer = setTimeout(over, ms);
    addEventListener("online", over);
  });
}

/** An own id for a fact: UUIDv7, which needs neither a secure page nor the network. */
export function newId(nowMs = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let rest = nowMs;
  for (let i = 5; i >= 0; i -= 1) {
    bytes[i] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [8, 12, 16, 20].reduce((id, at, i) => `${id.slice(0, at + i)}-${id.slice(at + i)}`, hex);
}
