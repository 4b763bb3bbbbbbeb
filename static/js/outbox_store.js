// What is kept on this tablet until the server has it: an IndexedDB of its own, written through to the disk before
// anything is said to be saved. Each function is one transaction; it resolves when that is complete, and rejects with
// nothing changed.

const NAME = "matchmark-outbox";
let opening = null;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      // Numbered by the database itself: the order of entry holds across tabs, whatever the clock does.
      const items = request.result.createObjectStore("items", { keyPath: "order", autoIncrement: true });
      items.createIndex("key", "key", { unique: true });
      items.createIndex("state", "state");
      items.createIndex("fill", "fill.from"); // what waits for the answer to another one
      request.result.createObjectStore("lease", { keyPath: "name" });
    };
    request.onsuccess = () => {
      const database = request.result;
      const forget = () => (opening = null);
      database.onclose = forget;
      database.onversionchange = () => {
        database.close();
        forget();
      };
      resolve(database);
    };
    request.onerror = () => {
      opening = null;
      reject(request.error);
    };
  });
  return opening;
}

async function within(mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(["items", "lease"], mode, { durability: "strict" });
    let result;
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(transaction.error ?? new Error("the tablet's own store gave up"));
    const give = (value) => (result = value);
    work(transaction.objectStore("items"), transaction.objectStore("lease"), give);
  });
}

// Resolves to true when the item is new; to false when its key is kept already (a double tap).
export function add(item) {
  return within("readwrite", (items, _, give) => {
    give(true);
    items.add(item).onerror = (event) => {
      if (event.target.error?.name !== "ConstraintError") return;
      event.preventDefault();
      event.stopPropagation();
      give(false);
    };
  });
}

// Every item, in the order of entry.
export function all() {
  return within("readonly", (items, _, give) => {
    items.getAll().onsuccess = (event) => give(event.target.result);
  });
}

// How many there are in a state.
export function count(...states) {
  return within("readonly", (items, _, give) => {
    const counts = states.map(() => 0);
    give(counts);
    states.forEach((state, place) => {
      items.index("state").count(state).onsuccess = (event) => (counts[place] = event.target.result);
    });
  });
}

// Changes one item where it still is: edit(item) gives what to keep in its place, or nothing to leave it alone. What is
// in `more` is added in the same transaction when the edit was made. Resolves to the item as it is now, null if gone.
export function change(key, edit, more = () => []) {
  return within("readwrite", (items, _, give) => {
    items.index("key").get(key).onsuccess = (event) => {
      const item = event.target.result;
      if (!item) return give(null);
      const edited = edit(item);
      give(edited ?? item);
      if (!edited) return;
      items.put(edited);
      for (const each of more(item)) items.add(each);
    };
  });
}

// Takes an item out for good; fill(item) changes each that waits for its answer. What is in `more` is added in the same
// transaction: nothing is ever gone before what stands for it is kept.
export function take(key, { fill = (item) => item, more = [] } = {}) {
  return within("readwrite", (items) => {
    items.index("key").getKey(key).onsuccess = (event) => {
      if (event.target.result === undefined) return;
      items.delete(event.target.result);
      for (const each of more) items.add(each);
      items.index("fill").getAll(key).onsuccess = (found) => {
        for (const item of found.target.result) items.put(fill(item));
      };
    };
  });
}

// The next item to send, marked as tried, with the right to send it for `ms`; { until } where another tab has that
// right; null where there is nothing to send. isNext is given the items in their order until it says yes. Two tabs that
// both think they have the right do no harm: the server knows the key.
export function claim(owner, ms, isNext) {
  return within("readwrite", (items, leases, give) => {
    leases.get("sender").onsuccess = (event) => {
      const lease = event.target.result;
      const now = Date.now();
      // A lease that ends later than any could was made before the clock was set back.
      if (lease && lease.owner !== owner && lease.until > now && lease.until <= now + ms) {
        return give({ until: lease.until });
      }
      items.openCursor().onsuccess = (found) => {
        const cursor = found.target.result;
        if (!cursor) {
          if (lease?.owner === owner) leases.delete("sender");
          return give(null);
        }
        if (!isNext(cursor.value)) return cursor.continue();
        const tried = { ...cursor.value, attempts: cursor.value.attempts + 1 };
        cursor.update(tried);
        leases.put({ name: "sender", owner, until: now + ms });
        give({ item: tried });
      };
    };
  });
}

export function extend(owner, ms) {
  return within("readwrite", (_, leases) => {
    leases.get("sender").onsuccess = (event) => {
      if (event.target.result?.owner === owner) leases.put({ name: "sender", owner, until: Date.now() + ms });
    };
  });
}

export function release(owner) {
  return within("readwrite", (_, leases) => {
    leases.get("sender").onsuccess = (event) => {
      if (event.target.result?.owner === owner) leases.delete("sender");
    };
  });
}
