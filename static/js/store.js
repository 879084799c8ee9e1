/* What a tablet keeps of its own: entries that wait for the server, and a few things about itself.
   Written through to the disk before anybody is told that it is kept. Pages and the worker use it. */
"use strict";
(() => {
  const NAME = "moldcare";
  const VERSION = 1;
  const OPENS_WITHIN = 2000;
  let handle = null;

  const open = () => {
    handle ??= new Promise((give, refuse) => {
      const request = indexedDB.open(NAME, VERSION);
      const late = setTimeout(() => {
        handle = null;
        self.dispatchEvent(new CustomEvent("store:blocked"));
        refuse(new Error("blocked"));
      }, OPENS_WITHIN);
      request.onupgradeneeded = (event) => {
        if (event.oldVersion > 0) return;
        const entries = request.result.createObjectStore("entries", { keyPath: "place", autoIncrement: true });
        entries.createIndex("handIn", "handIn", { unique: true });
        request.result.createObjectStore("about", { keyPath: "name" });
        request.transaction.objectStore("about").put({ name: "isNew", value: true });
      };
      request.onerror = () => {
        clearTimeout(late);
        handle = null;
        refuse(request.error);
      };
      request.onsuccess = () => {
        clearTimeout(late);
        const database = request.result;
        // a page with a newer version waits for this one to let go
        database.onversionchange = () => {
          database.close();
          handle = null;
        };
        database.onclose = () => {
          handle = null;
        };
        give(database);
      };
    });
    return handle;
  };

  const attempt = async (mode, work) => {
    const database = await open();
    return new Promise((give, refuse) => {
      const transaction = database.transaction(["entries", "about"], mode, { durability: "strict" });
      let found;
      transaction.oncomplete = () => give(found?.result);
      transaction.onabort = () => refuse(transaction.error || found?.error || new Error("aborted"));
      found = work(transaction.objectStore("entries"), transaction.objectStore("about"));
    });
  };

  // a handle may have died while the tablet slept: one more try with a fresh one
  const run = async (mode, work) => {
    try {
      return await attempt(mode, work);
    } catch (error) {
      if (error?.name === "QuotaExceededError" || error?.name === "ConstraintError") throw error;
      handle = null;
      return attempt(mode, work);
    }
  };

  self.store = {
    read: (work) => run("readonly", work),
    write: (work) => run("readwrite", work),
    entries: () => run("readonly", (entries) => entries.getAll()),
    about: async (name) => (await run("readonly", (_entries, about) => about.get(name)))?.value,
    note: (name, value) => run("readwrite", (_entries, about) => about.put({ name, value })),
    put: (entry) => run("readwrite", (entries) => entries.put(entry)),
    drop: (place) => run("readwrite", (entries) => entries.delete(place)),
    close: async () => {
      const database = await handle;
      database?.close();
      handle = null;
    },
  };
})();
