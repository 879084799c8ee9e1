/* Code readers that act as a keyboard. A field with data-scan takes what one types: the marks around
   a code are taken away, and Enter, a line feed, or a short pause after a burst of keys ends it.
   data-scan="next" then goes on to the next field of the form, so that a reader's Enter never sends
   a form half filled. data-scan="send" looks the code up at once, without leaving the page before
   the reader is done: one code opens its page, several in a row are listed in their order, and none
   runs into another. Without a net the pages that the tablet keeps are looked through. Nothing listens outside such a field: a PIN takes
   every key. Without script the field is an ordinary one, and the server takes the marks away. */
"use strict";
(() => {
  // a reader's keys come closer together than a person's [ms], and then none for a while
  const BURST_MS = 35;
  const PAUSE_MS = 150;
  const LEAST_KEYS = 4;

  const clean = (text) =>
    text
      .replace(/[\u0000-\u001f\u007f]/g, " ")
      .trim()
      .replace(/^\][A-Za-z][0-9A-Za-z]/, "")
      .replace(/^\*+|\*+$/g, "")
      .trim();

  const after = (field) => {
    const fields = [...field.form.elements].filter(
      (each) => each.matches("input:not([type=hidden]), select, textarea") && each.offsetParent !== null,
    );
    return fields[fields.indexOf(field) + 1];
  };

  const ended = (field) => {
    field.value = clean(field.value);
    if (!field.value) return;
    if (field.dataset.scan === "next") after(field)?.focus();
    else field.form.requestSubmit();
  };

  /* looking up */
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

  document.addEventListener("submit", (event) => {
    const field = event.target.querySelector?.('[data-scan="send"]');
    if (!field || !("fetch" in window)) return;
    event.preventDefault();
    const code = clean(field.value);
    field.value = "";
    field.focus();
    if (!code) return;
    // what was listed a while ago belongs to another round of scans
    if (!isBusy && Date.now() - lastCode > NEW_ROUND_MS) results.length = 0;
    lastCode = lastKey = Date.now();
    queue.push(code);
    work(event.target);
  });
  document.addEventListener("keydown", (event) => {
    if (event.target.matches?.('[data-scan="send"]')) lastKey = Date.now();
  });

  const bursts = new WeakMap();
  const burstOf = (field) => {
    if (!bursts.has(field)) bursts.set(field, { keys: 0, at: -Infinity, pause: 0 });
    return bursts.get(field);
  };

  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (!field.matches?.("[data-scan]")) {
      // the line feed after a reader's Enter must not send a form whose next field is still empty
      if (event.key === "Enter" && field.matches?.("[data-not-empty]") && !field.value) event.preventDefault();
      return;
    }
    const burst = burstOf(field);
    clearTimeout(burst.pause);
    if (event.key === "Enter" || (event.ctrlKey && event.key.toLowerCase() === "j")) {
      event.preventDefault();
      burst.keys = 0;
      ended(field);
      return;
    }
    if (event.key === "Tab") {
      field.value = clean(field.value);
      return;
    }
    if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey) return;
    burst.keys = event.timeStamp - burst.at < BURST_MS ? burst.keys + 1 : 1;
    burst.at = event.timeStamp;
    if (burst.keys < LEAST_KEYS) return;
    burst.pause = setTimeout(() => {
      burst.keys = 0;
      if (document.activeElement === field) ended(field);
    }, PAUSE_MS);
  });

  document.addEventListener("change", (event) => {
    if (event.target.matches?.("[data-scan]")) event.target.value = clean(event.target.value);
  });

  // the pad's own key goes on from the field that was touched last
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-pad-next]");
    if (!key) return;
    const form = document.getElementById(key.closest("[data-pad-form]")?.dataset.padForm);
    const fields = form ? [...form.querySelectorAll("[data-pad-field]")] : [];
    const here = fields.findIndex((field) => field.dataset.padHere !== undefined);
    const next = fields[here + 1];
    if (next) next.focus();
    else form?.querySelector("button[type=submit]:not([tabindex='-1'])")?.focus();
  });
})();
