/* The page "On this tablet": what waits, what was refused and why, and what can be done about it. And
   signing on while there is no net. */
"use strict";
(() => {
  const { outbox, store } = window;
  if (!outbox) return;
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");

  // --- signing on without a net: the PIN is sealed and never stored
  const signOn = document.getElementById("sign-on");
  signOn?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const badge = signOn.elements.badge.value.trim();
    const pin = signOn.elements.pin.value;
    if (!badge || !pin) return (badge ? signOn.elements.pin : signOn.elements.badge).focus();
    const tell = (name) => {
      document.getElementById("messages").textContent = outbox.words(name);
    };
    const id = crypto.randomUUID();
    let sealed;
    try {
      sealed = await outbox.seal(pin, id);
    } catch {
      return tell("noKey");
    }
    signOn.elements.pin.value = "";
    const open = (await store.about("signOns")) || [];
    await store.write((_entries, about) => {
      about.put({ name: "signOns", value: [...open, { id, badge, seal: sealed }] });
      about.put({ name: "here", value: { signOn: id, badge, name: "" } });
    });
    const said = await outbox.contact();
    const wrong = said?.sign_ons.find((each) => each.id === id && each.state !== "good");
    if (wrong) {
      await store.note("here", null);
      document.getElementById("messages").textContent = wrong.said;
      return undefined;
    }
    const next = new URLSearchParams(location.search).get("next") || location.pathname;
    const isBack = next.startsWith("/") && !next.startsWith("//") && next !== signOn.getAttribute("data-here");
    return location.assign(isBack && !next.startsWith("/tablet/sign-on") ? next : signOn.dataset.home);
  });

  const list = document.getElementById("on-tablet");
  if (!list) return;
  const words = list.dataset;
  const rows = document.getElementById("tablet-entries");
  const model = document.getElementById("tablet-entry");
  const sent = document.getElementById("tablet-said");
  list.hidden = false;

  const note = (id, text) => {
    const place = document.getElementById(id);
    const line = place.querySelector("p");
    if (line.textContent !== text) line.textContent = text;
    place.hidden = !text;
  };
  const change = async (place, values) => {
    const entry = await store.read((entries) => entries.get(place));
    if (entry) await store.put({ ...entry, nextAt: 0, ...values });
    await outbox.show();
    outbox.flush();
  };

  // what cannot go in is given to a lead as an entry of its own, in the place of the first
  const give = async (entry, discarded) => {
    const author = await outbox.here();
    if (!author) return;
    const photos = entry.fields.filter(([, value]) => value instanceof Blob);
    const typed = entry.fields.filter(([name, value]) => !(value instanceof Blob) && !name.endsWith("-seal"));
    const fields = [
      ["stuck", entry.handIn],
      ["author_said", entry.author.name || outbox.words("badge", entry.author.badge || "")],
      ["address", entry.action],
      ["said", entry.said],
      ["why", entry.answer],
      ["worked_at", entry.workedAt],
      ["content", JSON.stringify(typed)],
      ["discarded", discarded],
      ...photos.map(([, value], at) => [`photo-${String(at).padStart(2, "0")}`, value]),
    ];
    const said = fill(discarded ? words.discarded : words.forLead, { said: entry.said });
    const given = {
      handIn: crypto.randomUUID(),
      subject: `stuck-${entry.handIn}`,
      kind: "stuck",
      said,
      action: words.stuck,
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
    await store.write((entries) => {
      entries.delete(entry.place);
      return entries.add(given);
    });
    await outbox.show();
    outbox.flush();
  };

  const when = (text, isLong) => outbox.moment(new Date(text), { dateStyle: isLong ? "medium" : "short" });

  const wantsSomebody = (entry) => entry.state === "refused" || ["pin", "clock", "author"].includes(entry.why);

  const draw = (entry, { isHeld, now }) => {
    const card = model.content.firstElementChild.cloneNode(true);
    const part = (name) => card.querySelector(`[data-part="${name}"]`);
    const button = (name) => card.querySelector(`[data-do="${name}"]`);
    const name = entry.author.name || outbox.words("badge", entry.author.badge || "");
    const wants = wantsSomebody(entry);
    card.id = `entry-${entry.place}`;
    card.classList.toggle("note--due", wants);
    part("said").textContent = entry.state === "refused" ? `${words.refused}: ${entry.said}` : entry.said;
    part("by").textContent = fill(words.by, { name, when: when(entry.workedAt) });
    part("why").textContent = entry.answer || (entry.tries ? words.tried : isHeld ? words.holds : words.waits);
    const isMine = now && (now.person === entry.author.person || (now.signOn && now.signOn === entry.author.signOn));
    part("pin").hidden = entry.why !== "pin";
    part("at").hidden = part("times").hidden = entry.why !== "clock";
    button("mine").hidden = !(entry.why === "author" && now?.person && now.badge && now.badge === entry.author.badge && !isMine);
    button("again").hidden = entry.state !== "refused";
    button("lead").hidden = button("discard").hidden = !wants;
    part("pin").addEventListener("submit", async (event) => {
      event.preventDefault();
      const sealed = await outbox.seal(part("pin").querySelector("input").value, entry.handIn);
      const fields = entry.fields.map(([key, value]) => [key, key === "pin-seal" ? sealed : value]);
      await change(entry.place, { fields, state: "waits", why: "", answer: "" });
    });
    const at = (text) => change(entry.place, { confirmedAt: new Date(text).toISOString(), state: "waits", why: "", answer: "" });
    for (const text of entry.times || []) {
      const one = document.createElement("button");
      one.type = "button";
      one.className = "button";
      one.textContent = when(text, true);
      one.addEventListener("click", () => at(text));
      part("times").append(one);
    }
    part("at").addEventListener("submit", (event) => {
      event.preventDefault();
      at(part("at").querySelector("input").value);
    });
    button("mine").addEventListener("click", () => change(entry.place, { author: { person: now.person, name: now.name, badge: now.badge }, why: "", answer: "" }));
    button("again").addEventListener("click", () => change(entry.place, { state: "waits", why: "", answer: "" }));
    button("lead").addEventListener("click", () => give(entry, ""));
    button("discard").addEventListener("click", () => {
      part("discard").hidden = false;
      part("do").hidden = true;
      part("discard").querySelector("input").focus();
    });
    button("stay").addEventListener("click", () => {
      part("discard").hidden = true;
      part("do").hidden = false;
      button("discard").focus();
    });
    part("discard").addEventListener("submit", (event) => {
      event.preventDefault();
      const second = part("discard").querySelector("[type=submit]");
      const isAsked = second.textContent === second.dataset.second;
      if (isAsked) return give(entry, part("discard").querySelector("input").value.trim() || "-");
      second.textContent = second.dataset.second;
      return undefined;
    });
    return card;
  };

  // what was drawn stays as it is while it says the same: somebody may be typing in it
  const drawn = new Map();
  const drawAll = async () => {
    const [entries, now] = [await store.entries(), await outbox.here()];
    const held = new Set();
    const wanted = new Map();
    for (const entry of entries) {
      const isHeld = held.has(entry.subject);
      if (wantsSomebody(entry)) held.add(entry.subject);
      wanted.set(entry.place, [JSON.stringify([entry.state, entry.why, entry.answer, entry.tries, entry.handIn, isHeld, now]), entry, isHeld]);
    }
    for (const [place, [print, card]] of drawn) {
      if (wanted.get(place)?.[0] === print) continue;
      const hadFocus = card.contains(document.activeElement);
      card.remove();
      drawn.delete(place);
      if (hadFocus) document.getElementById("entries").closest("section").querySelector("#tablet-send").focus();
    }
    for (const [place, [print, entry, isHeld]] of wanted) {
      if (drawn.has(place)) continue;
      const card = draw(entry, { isHeld, now });
      const after = [...drawn].filter(([other]) => other > place).sort(([one], [other]) => one - other)[0];
      rows.insertBefore(card, after ? after[1][1] : null);
      drawn.set(place, [print, card]);
    }
    const text = entries.length ? fill(words.some, { n: entries.length }) : words.none;
    if (sent.textContent !== text) sent.textContent = text;
    const minutes = Math.round(((await store.about("offset")) || 0) / 60000);
    const isOff = Math.abs(minutes) >= 5;
    note("tablet-clock", isOff ? fill(minutes < 0 ? words.ahead : words.behind, { n: Math.abs(minutes) }) : "");
    note("tablet-not-kept", (await store.about("isKept")) === false ? words.notKept : "");
    const lost = (await store.about("lost")) || 0;
    note("tablet-lost", lost ? fill(words.lost, { n: lost }) : "");
    document.getElementById("tablet-send").hidden = !entries.length;
  };

  document.getElementById("tablet-send").addEventListener("click", async () => {
    for (const entry of await store.entries()) if (entry.nextAt) await store.put({ ...entry, nextAt: 0 });
    outbox.flush();
  });
  document.getElementById("tablet-lost-seen").addEventListener("click", async () => {
    await store.write((_entries, about) => {
      about.put({ name: "lost", value: 0 });
      return about.put({ name: "isLostSaid", value: false });
    });
    await outbox.show();
  });
  // one drawing at a time, so that none is drawn twice
  let last = Promise.resolve();
  document.addEventListener("outbox:shown", () => {
    last = last.then(drawAll).catch(() => {});
  });
  last = last.then(drawAll).catch(() => {});
})();
