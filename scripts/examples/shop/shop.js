// Dates for a shop's page. It asks the ledger itself with a publishable word; whatever needs a secret
// key (holding a day, promising it) it asks of the shop's own server, which is shop_server.py.
const told = (name) => document.querySelector(`meta[name=${name}]`).content;
const articles = [...document.querySelectorAll("article[data-sku]")];
const $ = (id) => document.getElementById(id);
const kept = new Map(); // the last answer to each question, shown while it is still true
const shown = new Map(); // the element and the answer that stands in it
let hold = null;

function lineOf(article, quantity) {
  const finish = article.querySelector("select");
  return article.dataset.sku + `*${quantity}` + (finish ? `;finish=${finish.value}` : "");
}

async function ask(lines, ships) {
  const query = new URLSearchParams([...lines.map((line) => ["line", line]), ["ships", ships], ["word", told("word")]]);
  const question = `${told("ledger")}/v1/ship-promise?${query}`;
  try {
    const answer = await fetch(question);
    const body = await answer.json();
    const promise = answer.ok ? body : body.ship_promise; // a refusal may tell what can be said instead
    if (!promise) throw new Error(body.detail);
    kept.set(question, promise);
  } catch (error) {
    console.info("no fresh day:", error.message);
  }
  const promise = kept.get(question);
  return promise && Date.parse(promise.valid_until) > Date.now() ? promise : null;
}

const day = (iso) => new Date(`${iso}T12:00Z`).toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long", timeZone: "UTC" });

function inWords(milliseconds) {
  const minutes = Math.floor(milliseconds / 60_000);
  const hours = Math.floor(minutes / 60);
  const some = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;
  if (hours >= 48) return some(Math.floor(hours / 24), "day");
  if (hours) return some(hours, "hour") + (minutes % 60 ? ` ${some(minutes % 60, "minute")}` : "");
  return minutes < 1 ? "less than a minute" : some(minutes, "minute");
}

function sentence(promise) {
  if (!promise) return "Ask us when it can leave our workshop.";
  if (!promise.ships_by || promise.basis === "stated") return promise.text;
  const kind = promise.status === "on_shelf" ? "On the shelf: it leaves us" : "Made for you: it leaves us";
  const left = Date.parse(promise.order_before) - Date.now();
  if (left <= 0) return "Asking the workshop…"; // the cut-off has just passed: a fresh day is on its way
  return `${kind} by ${day(promise.ships_by)} if you order within ${inWords(left)}. The carrier's days come on top.`;
}

function show(element, promise) {
  shown.set(element, promise);
  element.textContent = sentence(promise);
}

function markup(article, line) {
  article.querySelector("script")?.remove();
  if (!line?.json_ld) return;
  const script = document.createElement("script");
  script.type = "application/ld+json";
  script.textContent = JSON.stringify({
    "@context": "https://schema.org", "@type": "Product", name: article.querySelector("h2").textContent,
    sku: line.sku, offers: { "@type": "Offer", shippingDetails: line.json_ld },
  });
  article.append(script);
}

async function askAll() {
  const each = await ask(articles.map((one) => lineOf(one, Math.max(1, quantity(one)))), "single");
  articles.forEach((article, n) => {
    const line = each?.lines[n];
    show(article.querySelector(".leaves"), line);
    markup(article, line);
  });
  await askWhole();
  document.documentElement.dataset.ready = "";
  const until = each ? Date.parse(each.valid_until) - Date.now() : 60_000;
  clearTimeout(askAll.next);
  askAll.next = setTimeout(askAll, Math.min(Math.max(until, 1_000), 60_000));
}

const quantity = (article) => Number(article.querySelector("[name=quantity]").value) || 0;
const chosen = () => articles.filter(quantity).map((one) => lineOf(one, quantity(one)));

async function askWhole() {
  const lines = chosen();
  $("hold").disabled = !lines.length;
  if (hold) return;
  if (lines.length) show($("whole"), await ask(lines, $("split").checked ? "split" : "together"));
  else { shown.delete($("whole")); $("whole").textContent = "Nothing yet."; }
}

async function post(path, body) {
  const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  return { status: answer.status, ...(await answer.json()) };
}

function say(text) {
  shown.delete($("whole"));
  $("whole").textContent = text;
}

function choosing(free) {
  if (free) hold = null;
  $("hold").hidden = !free;
  $("pay").hidden = free;
}

$("hold").addEventListener("click", async () => {
  const held = await post("/checkout", { lines: chosen(), together: !$("split").checked });
  if (held.status !== 200) return say(held.says);
  hold = held.hold;
  choosing(false);
  const until = new Date(held.until).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  say(`Held for you until ${until}: it leaves us by ${day(held.ships_by)}.`);
});

$("pay").addEventListener("click", async () => {
  const paid = await post("/pay", { hold });
  choosing(true);
  if (paid.status === 200) say(`Thank you. Your order ${paid.order} leaves us by ${day(paid.ships_by)}.`);
  else if (paid.ships_by) say(`That took too long, and the day is gone. It can leave us by ${day(paid.ships_by)} now.`);
  else say(paid.says);
});

articles.forEach((one) => one.addEventListener("change", () => { choosing(true); askAll(); }));
$("split").addEventListener("change", () => { choosing(true); askWhole(); });
setInterval(() => shown.forEach((promise, element) => { element.textContent = sentence(promise); }), 5_000);
askAll();
