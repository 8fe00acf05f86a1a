/* What this device keeps: the round, the draws, and the outbox of events not yet at the desk.

   An event is in the outbox, on the disk, before the page goes on. */

const NAME = "cubital-chair";
const VERSION = 1;

function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function done(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
}

export class Store {
  constructor(database) {
    this.database = database;
  }

  static async open() {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const database = request.result;
      database.createObjectStore("kept");
      database.createObjectStore("draws", { keyPath: "draw" });
      database.createObjectStore("short", { keyPath: "code" });
      database.createObjectStore("outbox", { autoIncrement: true });
      database.createObjectStore("refused", { keyPath: "id" });
    };
    const database = await asked(request);
    database.onversionchange = () => database.close();
    return new Store(database);
  }

  change(...stores) {
    return this.database.transaction(stores, "readwrite", { durability: "strict" });
  }

  get(store, key) {
    return asked(this.database.transaction(store).objectStore(store).get(key));
  }

  all(store) {
    return asked(this.database.transaction(store).objectStore(store).getAll());
  }

  count(store) {
    return asked(this.database.transaction(store).objectStore(store).count());
  }

  async put(store, value, key) {
    const change = this.change(store);
    change.objectStore(store).put(value, key);
    await done(change);
  }

  async remove(store, key) {
    const change = this.change(store);
    change.objectStore(store).delete(key);
    await done(change);
  }

  /* Events go into the outbox and the draw that they belong to is kept, both or neither. */
  async record(events, draw) {
    const change = this.change("outbox", "draws");
    for (const event of events) change.objectStore("outbox").add(event);
    if (draw) change.objectStore("draws").put(draw);
    await done(change);
  }

  /* The oldest events of the outbox with their keys. */
  async waiting(most) {
    const store = this.database.transaction("outbox").objectStore("outbox");
    const [keys, events] = await Promise.all([
      asked(store.getAllKeys(null, most)),
      asked(store.getAll(null, most)),
    ]);
    return keys.map((key, at) => ({ key, event: events[at] }));
  }

  /* What the desk answered: stored ones go, refused ones are kept apart with the sentence. */
  async settle(answered) {
    const change = this.change("outbox", "refused");
    for (const { key, event, sentence } of answered) {
      if (sentence) change.objectStore("refused").put({ id: event.id, event, sentence });
      change.objectStore("outbox").delete(key);
    }
    await done(change);
  }

  /* Offer refused events once more, in their old order. */
  async again() {
    const refused = await this.all("refused");
    refused.sort((a, b) => (a.id < b.id ? -1 : 1));
    const change = this.change("outbox", "refused");
    for (const each of refused) change.objectStore("outbox").add(each.event);
    change.objectStore("refused").clear();
    await done(change);
  }
}
