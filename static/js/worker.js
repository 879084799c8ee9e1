/* The worker: it keeps a pack of pages for the time without a net, and nothing else. Pages come from
   the server first, within a time limit; style sheets and scripts from what is kept. Nothing that is
   not plainly ours is ever kept: no redirect, no error, no page of somebody else. */
"use strict";
importScripts(STORE);

const PAGES = "pages";
const FILES = `files-${VERSION}`;
const WITHIN = 6000;
const GOOD_FOR = 600000;

// a page is asked for as the browser asked, without options of ours: they would make it another request
const within = (request, limit, options) =>
  new Promise((give, refuse) => {
    const timer = setTimeout(() => refuse(new Error("too slow")), limit);
    fetch(request, options).then(give, refuse).finally(() => clearTimeout(timer));
  });

const isOurs = (answer, kind) =>
  answer.ok && answer.type === "basic" && !answer.redirected && (answer.headers.get("Content-Type") || "").includes(kind);

addEventListener("install", (event) => {
  event.waitUntil(skipWaiting());
});

addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name !== PAGES && name !== FILES) await caches.delete(name);
      await clients.claim();
      await keepSignOn();
    })().catch(() => {}),
  );
});

// --- files: their names, or the version, change with what is in them

const file = async (request) => {
  const kept = await caches.open(FILES);
  const found = await kept.match(request);
  if (found) return found;
  const answer = await fetch(request);
  if (isOurs(answer, "") && !isOurs(answer, "text/html")) await kept.put(request, answer.clone());
  return answer;
};

const keepFile = async (address) => {
  const answer = await file(new Request(address));
  if (!address.endsWith(".css") || !answer.ok) return;
  // what a style sheet names: the typefaces; those of rarer signs come with the first page that needs them
  for (const [, name] of (await answer.clone().text()).matchAll(/url\("?([^")]+-latin-wght[^")]+)"?\)/g)) {
    await file(new Request(new URL(name, new URL(address, location.origin))));
  }
};

const filesOf = (text) =>
  Array.from(text.matchAll(/(?:href|src)="([^"]+)"/g), ([, name]) => name).filter((name) => name.startsWith(STATIC));

// --- pages

const plain = (address) => new URL(address, location.origin).pathname;

const keepPage = async (address) => {
  const answer = await within(address, 4 * WITHIN, { headers: { "X-Pack": "1" }, redirect: "manual", cache: "no-store" });
  const kept = await caches.open(PAGES);
  if (answer.status === 404 && answer.headers.get("X-Pack")) return kept.delete(plain(address));
  if (!isOurs(answer, "text/html") || answer.headers.get("X-Pack") !== VERSION) return undefined;
  const text = await answer.text();
  for (const name of filesOf(text)) await keepFile(name);
  const at = new Date().toISOString();
  const body = text.replace("<html ", `<html data-copy="${at}" `);
  const headers = { "Content-Type": "text/html; charset=utf-8", "X-Kept-At": at };
  for (const name of ["Content-Security-Policy", "Permissions-Policy", "Content-Language"]) {
    if (answer.headers.get(name)) headers[name] = answer.headers.get(name);
  }
  return kept.put(plain(address), new Response(body, { headers }));
};

const keepSignOn = async () => {
  const kept = await caches.open(PAGES);
  if (!(await kept.match(SIGN_ON))) await keepPage(SIGN_ON);
};

let filling = null;
const fill = (language) => {
  filling ??= (async () => {
    const answer = await within(PACK, WITHIN, { redirect: "manual", cache: "no-store" });
    if (!isOurs(answer, "application/json")) return;
    const pack = await answer.json();
    if (pack.version !== VERSION) return;
    const kept = await caches.open(PAGES);
    const before = (await store.about("pack")) || {};
    const isAnew = before.version !== VERSION || before.language !== language;
    for (const address of pack.pages) {
      const at = Date.parse((await kept.match(plain(address)))?.headers.get("X-Kept-At")) || 0;
      if (isAnew || Date.now() - at > GOOD_FOR) await keepPage(address);
    }
    const named = new Set(pack.pages.map(plain));
    for (const request of await kept.keys()) if (!named.has(plain(request.url))) await kept.delete(request);
    await store.note("pack", { version: VERSION, language, at: new Date().toISOString() });
  })()
    .catch(() => {})
    .finally(() => {
      filling = null;
    });
  return filling;
};

const again = async (addresses) => {
  const kept = await caches.open(PAGES);
  for (const address of new Set(addresses.map(plain))) {
    if (await kept.match(address)) await keepPage(address).catch(() => {});
  }
};

addEventListener("message", (event) => {
  const said = event.data || {};
  if (said.pack) event.waitUntil(said.pack === VERSION ? fill(said.language) : registration.update().catch(() => {}));
  if (said.again) event.waitUntil(again(said.again));
});

// somebody signed off while there was no net: the server hears of it before anybody sees a page
const signOff = async () => {
  if (!(await store.about("signOff"))) return;
  const said = { sign_off: true, sent_at: new Date().toISOString() };
  const options = { method: "POST", headers: { "X-Outbox": "contact" }, body: JSON.stringify(said), redirect: "manual" };
  const answer = await within(CONTACT, WITHIN, options);
  if (!isOurs(answer, "application/json")) throw new Error("not signed off");
  await store.note("signOff", false);
};

const copyOf = async (request) => {
  const kept = await caches.open(PAGES);
  const isHere = await store.about("here").catch(() => null);
  const address = plain(request.url);
  const found = isHere || address === SIGN_ON ? await kept.match(address) : await kept.match(SIGN_ON);
  return found || (await kept.match(isHere ? HOME : SIGN_ON));
};

const page = async (request) => {
  try {
    await signOff();
    const answer = await within(request, WITHIN);
    // a proxy that has lost its server answers by itself
    if (![502, 503, 504].includes(answer.status)) return answer;
    return (await copyOf(request)) || answer;
  } catch (error) {
    const found = await copyOf(request);
    if (found) return found;
    throw error;
  }
};

addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (address.pathname.startsWith(STATIC)) event.respondWith(file(request));
  else if (request.mode === "navigate") event.respondWith(page(request));
});
