// Where a device keeps the acts it has logged until the service has them: IndexedDB, written through
// to the disk, or localStorage where a browser gives no database. Nothing is kept twice.

const DATABASE = "coatledger";
const ACTS = "acts";
const PREFIX = "coatledger.act.";

/** Open what is kept: {all, put, remove}, each of which resolves once it is done for good. */
export async function openKeep() {
  try {
    return inDatabase(await database());
  } catch {
    return inStorage();
  }
}

function database() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(DATABASE, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(ACTS, { keyPath: "id" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
    asked.onblocked = () => reject(new Error("blocked"));
  });
}

function inDatabase(db) {
  const through = (mode, work) =>
    new Promise((resolve, reject) => {
      const change = db.transaction(ACTS, mode, { durability: "strict" });
      const asked = work(change.objectStore(ACTS));
      change.oncomplete = () => resolve(asked.result);
      change.onerror = () => reject(change.error);
      change.onabort = () => reject(change.error);
    });
  return {
    all: () => through("readonly", (acts) => acts.getAll()),
    one: (id) => through("readonly", (acts) => acts.get(id)),
    put: (entry) => through("readwrite", (acts) => acts.put(entry)),
    remove: (id) => through("readwrite", (acts) => acts.delete(id)),
  };
}

function inStorage() {
  const names = () =>
    Array.from({ length: localStorage.length }, (_, i) => localStorage.key(i)).filter((name) =>
      name.startsWith(PREFIX),
    );
  const read = (name) => JSON.parse(localStorage.getItem(name) ?? "null");
  return {
    all: async () => names().map(read),
    one: async (id) => read(PREFIX + id),
    put: async (entry) => localStorage.setItem(PREFIX + entry.id, JSON.stringify(entry)),
    remove: async (id) => localStorage.removeItem(PREFIX + id),
  };
}
