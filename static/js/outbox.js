/* The outbox. A form marked data-outbox is kept on the tablet first and handed in then, with a net or
   without. Only a JSON answer that names the entry's own UUID counts as an answer; nothing leaves the
   outbox before it. What is sent is the form of its page, to the page's own address. The words come
   with the page (data-... on #outbox), in the reader's language. */
"use strict";
(() => {
  const html = document.documentElement;
  const bar = document.getElementById("outbox");
  if (!bar) return;
  const isAble = isSecureContext && window.indexedDB && navigator.locks && crypto.subtle;
  if (!isAble) {
    const why = document.getElementById("no-outbox");
    if (why && (why.dataset.always !== undefined || document.querySelector("form[data-outbox]"))) why.hidden = false;
    return;
  }

  const CONTACT_WITHIN = 8000;
  const SENT_WITHIN = 40000;
  const EVERY = 15000;
  const LONGEST_PAUSE = 600000;
  const OLD_AFTER = 12 * 3600000;
  const store = window.store;
  const words = (name, n) => (bar.dataset[name] || "").replace("{n}", n);
  const uuid = () => crypto.randomUUID();

  const moment = (at, options) =>
    new Intl.DateTimeFormat(html.lang, { timeStyle: "short", hourCycle: "h23", timeZone: html.dataset.zone, ...options }).format(at);

  const tell = (name) => {
    const region = document.getElementById("messages");
    if (!region) return;
    const line = document.createElement("p");
    line.className = "message message--error";
    line.textContent = words(name);
    region.replaceChildren(line);
    region.scrollIntoView({ block: "center" });
  };

  // --- who is here

  const owner = () =>
    html.dataset.person ? { person: Number(html.dataset.person), name: html.dataset.personName || "" } : null;
  const here = async () => {
    const [page, kept] = [owner(), (await store.about("here")) || null];
    return page && page.person !== kept?.person ? page : kept;
  };
  // also to a worker that is only about to begin
  const tellWorker = (said) => navigator.serviceWorker?.ready.then(({ active }) => active.postMessage(said)).catch(() => {});

  // --- sealing

  const bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const seal = async (secret, id) => {
    const known = await store.about("key");
    if (!known) throw new Error("no key");
    const way = { name: "RSA-OAEP", hash: "SHA-256" };
    const key = await crypto.subtle.importKey("spki", bytes(known.public), way, false, ["encrypt"]);
    const plain = new TextEncoder().encode(JSON.stringify({ id, secret }));
    const sealed = new Uint8Array(await crypto.subtle.encrypt(way, key, plain));
    return `${known.id}:${btoa(String.fromCharCode(...sealed))}`;
  };

  // --- keeping

  const entryOf = async (form, sent, author) => {
    const number = form.elements.namedItem("hand_in");
    const handIn = (html.dataset.copy === undefined && number?.value) || uuid();
    const secret = new Set(Array.from(form.elements).filter((each) => each.dataset.seal !== undefined).map((each) => each.name));
    const fields = [];
    for (const [name, value] of sent) {
      if (name === "csrfmiddlewaretoken" || name === "hand_in") continue;
      if (value instanceof File && !value.size && !value.name) continue;
      if (!secret.has(name)) fields.push([name, value]);
      else if (value) fields.push([`${name}-seal`, await seal(value, handIn)]);
    }
    return {
      handIn,
      subject: form.dataset.subject || form.getAttribute("action") || location.pathname,
      kind: form.dataset.outbox,
      said: form.dataset.said || document.title,
      action: form.getAttribute("action") || location.pathname,
      fields,
      author,
      workedAt: new Date().toISOString(),
      offsetThen: (await store.about("offset")) ?? null,
      state: "waits",
      why: "",
      answer: "",
      tries: 0,
      nextAt: 0,
    };
  };

  const add = async (entry) => {
    try {
      await store.write((entries) => entries.add(entry));
    } catch (error) {
      if (error?.name !== "ConstraintError") throw error;
      // its UUID is there already: the same again is kept already, anything else is another entry
      const first = await store.read((entries) => entries.index("handIn").get(entry.handIn));
      const text = ({ fields }) => JSON.stringify(fields.filter(([name]) => !name.endsWith("-seal")).map(([name, value]) => [name, value.size ?? value]));
      if (text(first) === text(entry)) return;
      if (entry.fields.some(([name]) => name.endsWith("-seal"))) throw error;
      entry.handIn = uuid();
      await store.write((entries) => entries.add(entry));
    }
  };

  const keep = async (form, submitter) => {
    const sent = [...new FormData(form, submitter)];
    const author = await here();
    if (!author) return tell("nobody");
    let entry;
    try {
      entry = await entryOf(form, sent, author);
      await add(entry);
    } catch (error) {
      return plainly(form, submitter, { "no key": "noKey", blocked: "blocked" }[error?.message] || "full");
    }
    form.dataset.kept = entry.handIn;
    navigator.storage?.persist?.().then((isKept) => store.note("isKept", isKept));
    await show();
    form.dispatchEvent(
      new CustomEvent("outbox:kept", { bubbles: true, detail: { handIn: entry.handIn, subject: entry.subject } }),
    );
    flush();
    return true;
  };

  // it cannot be kept: said before the page is left, and sent as a page without outbox does
  const plainly = async (form, submitter, why) => {
    tell(why);
    if (!(await ask(bar.dataset.contact, { headers: { "X-Outbox": "here" } }, CONTACT_WITHIN))?.now) return;
    form.dataset.plain = "1";
    form.requestSubmit(submitter);
  };

  window.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if (form.matches("form[data-sign-off]")) return signOff(event, form);
      if (!form.dataset.outbox || form.dataset.plain) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      if (form.dataset.kept) return;
      form.dataset.kept = "now";
      keep(form, event.submitter).then((isKept) => {
        if (!isKept) form.dataset.kept = "";
      });
    },
    true,
  );

  // --- the server

  const ask = async (address, options, within) => {
    const ended = new AbortController();
    const timer = setTimeout(() => ended.abort(), within);
    try {
      const answer = await fetch(address, {
        method: "POST",
        redirect: "manual",
        credentials: "same-origin",
        cache: "no-store",
        signal: ended.signal,
        ...options,
      });
      const isJson = (answer.headers.get("Content-Type") || "").startsWith("application/json");
      return answer.ok && isJson ? await answer.json() : {};
    } catch (error) {
      if (error instanceof SyntaxError) return {};
      return null; // no answer within the time
    } finally {
      clearTimeout(timer);
    }
  };

  const contact = async () => {
    const entries = await store.entries();
    const signOns = (await store.about("signOns")) || [];
    const isHere = await store.about("here");
    const lost = (await store.about("lost")) || 0;
    const sent = {
      waiting: entries.length,
      oldest: entries[0]?.workedAt || null,
      kept: (await store.about("isKept")) ?? null,
      store: await storeName(),
      lost: (await store.about("isLostSaid")) ? 0 : lost,
      sign_off: Boolean(await store.about("signOff")),
      sign_ons: signOns,
      here: isHere?.signOn || null,
    };
    const sentAt = Date.now();
    const said = await ask(
      bar.dataset.contact,
      {
        headers: { "Content-Type": "application/json", "X-Outbox": "contact" },
        body: JSON.stringify({ ...sent, sent_at: new Date(sentAt).toISOString() }),
      },
      CONTACT_WITHIN,
    );
    if (!said?.now) return null;
    const offset = Math.round(Date.parse(said.now) - (sentAt + Date.now()) / 2);
    const people = (await store.about("people")) || {};
    if (said.person) people[said.person.person] = said.person;
    let now = isHere;
    if (said.person) now = { person: said.person.person, name: said.person.name, badge: said.person.badge };
    else if (!isHere?.signOn) now = null;
    const open = [];
    for (const each of said.sign_ons) {
      if (each.state === "good") people[each.id] = each.person;
      else if (each.state === "slow") open.push(signOns.find((one) => one.id === each.id));
      else people[each.id] = { wrong: each.said };
      if (each.state === "wrong" && isHere?.signOn === each.id) now = null;
    }
    // who signed off while this was asked is not here any more
    const isGone = !sent.sign_off && Boolean(await store.about("signOff"));
    if (isGone) now = null;
    await store.write((_entries, about) => {
      for (const [name, value] of Object.entries({ key: said.key, offset, people, here: now, signOff: isGone, signOns: open })) {
        about.put({ name, value });
      }
      if (lost) about.put({ name: "isLostSaid", value: true });
    });
    tellWorker({ pack: said.version, language: html.lang });
    return { ...said, offset, people };
  };

  const send = (entry, { offset, people, csrf }) => {
    const body = new FormData();
    body.append("hand_in", entry.handIn);
    let size = 0;
    for (const [name, value] of entry.fields) {
      size += value.size || 0;
      if (value instanceof Blob) body.append(name, value, value.name || "photo");
      else body.append(name, value);
    }
    const headers = {
      "X-Outbox": entry.handIn,
      "X-CSRFToken": csrf,
      "X-Outbox-Pass": bearer(entry, people).pass,
      "X-Outbox-Worked-At": entry.workedAt,
      "X-Outbox-Sent-At": new Date().toISOString(),
      "X-Outbox-Offset": String(entry.offset ?? offset),
    };
    if (entry.offsetThen !== null) headers["X-Outbox-Offset-Then"] = String(entry.offsetThen);
    if (entry.confirmedAt) headers["X-Outbox-Confirmed-At"] = entry.confirmedAt;
    return ask(entry.action, { headers, body }, SENT_WITHIN + size / 50);
  };

  const bearer = (entry, people) => people[entry.author.signOn] || people[entry.author.person] || {};
  const needsSomebody = (entry) => entry.state === "refused" || entry.why === "pin" || entry.why === "clock";

  const pass = async (entry, said) => {
    if (!bearer(entry, said.people).pass) {
      if (entry.why === "author") return "held";
      Object.assign(entry, { why: "author", answer: bearer(entry, said.people).wrong || words("noAuthor") });
      await store.put(entry);
      return "held";
    }
    if (entry.offset === undefined) {
      // fixed before it is sent: the same again must mean the same instant
      entry.offset = said.offset;
      await store.put(entry);
    }
    const answer = await send(entry, said);
    if (answer === null) return "away";
    if (answer.hand_in !== entry.handIn) {
      entry.tries += 1;
      entry.nextAt = Date.now() + Math.min(LONGEST_PAUSE, 5000 * 2 ** entry.tries);
      await store.put(entry);
      return "held";
    }
    if (answer.state === "taken") await store.drop(entry.place);
    else {
      Object.assign(entry, { state: answer.state, why: answer.why, answer: answer.said, times: answer.times || [] });
      if (answer.why === "measure") delete entry.offset;
      if (answer.why === "slow" || answer.why === "measure") {
        entry.tries += 1;
        entry.nextAt = Date.now() + Math.min(LONGEST_PAUSE, 5000 * 2 ** entry.tries);
      }
      await store.put(entry);
    }
    document.dispatchEvent(
      new CustomEvent("outbox:answered", {
        detail: { handIn: entry.handIn, subject: entry.subject, state: answer.state, said: answer.said },
      }),
    );
    return answer.state === "taken" ? "" : "held";
  };

  const handIn = async () => {
    const said = await contact();
    if (!said) return;
    const held = new Set();
    const settled = [];
    for (const { place } of await store.entries()) {
      const entry = await store.read((entries) => entries.get(place));
      if (!entry || held.has(entry.subject)) continue;
      const isLater = needsSomebody(entry) || entry.nextAt > Date.now();
      const became = isLater ? "held" : await pass(entry, said);
      if (became === "away") break;
      if (became === "held") held.add(entry.subject);
      else settled.push(entry.action);
      await show();
    }
    if (settled.length) tellWorker({ again: settled });
    await forget();
  };

  // who has nothing waiting here and went is not kept on the tablet
  const forget = async () => {
    const [entries, people, now] = [await store.entries(), (await store.about("people")) || {}, await store.about("here")];
    const wanted = new Set(entries.flatMap((each) => [String(each.author.person), String(each.author.signOn)]));
    if (now) wanted.add(String(now.person)).add(String(now.signOn));
    const kept = Object.fromEntries(Object.entries(people).filter(([key]) => wanted.has(key)));
    if (Object.keys(kept).length !== Object.keys(people).length) await store.note("people", kept);
  };

  let isAsked = false;
  const flush = () => {
    if (isAsked) return;
    isAsked = true;
    navigator.locks
      .request("outbox", async () => {
        isAsked = false;
        await handIn();
      })
      .catch(() => {})
      .finally(show);
  };

  // --- what is always seen

  const storeName = async () => {
    const name = (await store.about("store")) || uuid();
    if (!(await store.about("store"))) await store.note("store", name);
    return name;
  };

  // a second memory, only of how many: what the browser threw away is noticed by it
  const noticeLoss = async () => {
    if (!(await store.about("isNew"))) return;
    const before = Number(localStorage.getItem("outbox.waiting")) || 0;
    await store.note("isNew", false);
    if (before) await store.note("lost", before);
  };

  const show = async () => {
    const entries = await store.entries();
    const wanting = entries.filter((each) => needsSomebody(each) || each.why === "author").length;
    const lost = (await store.about("lost")) || 0;
    const isOld = entries.some((each) => Date.now() - Date.parse(each.workedAt) > OLD_AFTER);
    try {
      localStorage.setItem("outbox.waiting", entries.length);
    } catch {
      /* only the second memory is missing then */
    }
    const said = [];
    if (lost) said.push(words("lost", lost));
    if (entries.length) said.push(words(isOld ? "old" : "waiting", entries.length));
    if (wanting) said.push(words("wanting", wanting));
    const text = said.join(" ");
    if (bar.textContent !== text) bar.textContent = text;
    bar.hidden = !text;
    bar.classList.toggle("bar__outbox--wants", Boolean(lost || wanting || isOld));
    document.dispatchEvent(new CustomEvent("outbox:shown"));
  };

  const showAuthor = async () => {
    const places = document.querySelectorAll("[data-author]");
    if (!places.length) return;
    const now = await here();
    const name = now?.name || (now?.badge ? words("badge", now.badge) : "");
    for (const each of places) each.textContent = name;
  };

  const showAge = () => {
    const place = document.getElementById("copy");
    if (html.dataset.copy === undefined || !place) return;
    const at = new Date(html.dataset.copy);
    const isToday = at.toDateString() === new Date().toDateString();
    place.textContent = words("copy", moment(at, isToday ? {} : { dateStyle: "short" }));
    place.hidden = false;
  };

  // --- signing off, with a net or without

  const signOff = async (event, form) => {
    event.preventDefault();
    event.stopImmediatePropagation();
    await store
      .write((_entries, about) => {
        about.put({ name: "here", value: null });
        return about.put({ name: "signOff", value: true });
      })
      .catch(() => {});
    const ended = new AbortController();
    const timer = setTimeout(() => ended.abort(), CONTACT_WITHIN);
    const isDone = await fetch(form.action, {
      method: "POST",
      body: new FormData(form),
      redirect: "manual",
      signal: ended.signal,
    }).then(
      (answer) => answer.type === "opaqueredirect",
      () => false,
    );
    clearTimeout(timer);
    if (isDone) await store.note("signOff", false).catch(() => {});
    location.assign(isDone ? form.dataset.signOff : bar.dataset.signOn);
  };

  window.outbox = {
    here,
    seal,
    flush,
    contact,
    show,
    words,
    moment,
    waiting: async (subject) => (await store.entries()).filter((each) => each.subject === subject),
  };
  html.dataset.outbox = "on";
  addEventListener("store:blocked", () => tell("blocked"));
  addEventListener("online", flush);
  addEventListener("pageshow", flush);
  addEventListener("storage", (event) => event.key === "outbox.waiting" && show());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && flush());
  setInterval(async () => {
    if ((await store.entries()).length || (await store.about("signOns"))?.length) flush();
  }, EVERY);
  setInterval(flush, 10 * EVERY);
  navigator.serviceWorker?.register(bar.dataset.worker).catch(() => {});
  showAge();
  noticeLoss().then(show).then(showAuthor).then(flush, () => tell("full"));
})();
