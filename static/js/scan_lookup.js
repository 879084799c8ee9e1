/* What a code names, without leaving the page before the reader is done: one code opens its page,
   several in a row are listed in their order, and none runs into another. Without a net the pages
   that the tablet keeps are looked through. */
"use strict";
(() => {
  const ANSWER_MS = 5_000;
  const QUIET_MS = 400;
  const NEW_ROUND_MS = 5_000;
  const queue = [];
  const results = [];
  let isBusy = false;
  let lastKey = 0;
  let lastCode = 0;

  // the same as pages/molds/addresses.py: any sign may be stamped on a plate
  const part = (number) => {
    const escaped = number.replace(/~/g, "~t").replace(/\//g, "~s").replace(/\\/g, "~b");
    return encodeURIComponent(/^\.*$/.test(escaped) ? escaped.replace(/\./g, "~d") : escaped).replace(/%7E/g, "~");
  };

  const kept = async (code) => {
    const address = /^https?:\/\/[^/]+(\/[^?#]*)[^#]*(#.*)?$/i.exec(code);
    const number = part(code);
    const paths = address
      ? [address[1] + (address[2] || "")]
      : [`/molds/${number}`, `/molds/${part(code.toUpperCase())}`, ...["press", "bench", "rack"].map((kind) => `/spots/${kind}/${number}`), `/orders/${number}/sheet`];
    const found = [];
    for (const path of new Set(paths)) {
      if (await caches.match(path.split("#")[0], { ignoreVary: true })) found.push({ label: code, path });
    }
    return { code, found, is_sure: true, said: "" };
  };

  const asked = async (form, code) => {
    const address = `${form.action}?${new URLSearchParams({ code })}`;
    const lost = { code, found: [], address };
    const ended = new AbortController();
    const timer = setTimeout(() => ended.abort(), ANSWER_MS);
    try {
      const answer = await fetch(address, {
        headers: { Accept: "application/json" },
        cache: "no-store",
        redirect: "manual",
        signal: ended.signal,
      });
      // signed off meanwhile, or somebody else's page: the browser shows which
      if (!answer.ok || !answer.headers.get("Content-Type")?.startsWith("application/json")) return lost;
      return await answer.json();
    } catch {
      return "caches" in window ? await kept(code).catch(() => lost) : lost;
    } finally {
      clearTimeout(timer);
    }
  };

  const list = (form) => {
    const region = document.getElementById("found") || document.getElementById("messages");
    const lines = results.map(({ code, found, said }) => {
      const line = document.createElement("li");
      if (said || !found.length) {
        const words = document.createElement("p");
        words.className = "message message--error";
        words.textContent = said || form.dataset.none?.replace("{code}", code) || code;
        line.append(words);
      }
      for (const { label, path } of found) {
        const link = document.createElement("a");
        link.className = "button";
        link.href = path;
        link.textContent = label;
        line.append(link);
      }
      return line;
    });
    const whole = document.createElement("ul");
    whole.className = "found__list";
    whole.append(...lines);
    region.replaceChildren(whole);
  };

  const settle = (form) => {
    if (isBusy || queue.length || !results.length) return;
    if (Date.now() - lastKey < QUIET_MS) {
      setTimeout(() => settle(form), QUIET_MS);
      return;
    }
    const [first] = results;
    if (results.length === 1 && first.address) location.assign(first.address);
    else if (results.length === 1 && first.is_sure && first.found.length === 1) {
      results.length = 0;
      location.assign(first.found[0].path);
    } else list(form);
  };

  const work = async (form) => {
    if (isBusy) return;
    isBusy = true;
    while (queue.length) {
      results.push(await asked(form, queue.shift()));
    }
    isBusy = false;
    settle(form);
  };

  window.scanLookup = (form, code) => {
    // what was listed a while ago belongs to another round of scans
    if (!isBusy && Date.now() - lastCode > NEW_ROUND_MS) results.length = 0;
    lastCode = lastKey = Date.now();
    queue.push(code);
    work(form);
  };
  document.addEventListener("keydown", (event) => {
    if (event.target.matches?.('[data-scan="send"]')) lastKey = Date.now();
  });
})();
