/* A shared tablet that nobody touches signs its last person off, after a warning of a minute. What
   was typed and not sent is kept under the person's number and the page's address, and comes back
   when the same person opens the same page again; nobody else is ever shown it. Forms that keep
   their own drafts (data-draft) are left alone, and so are passwords, PINs and files.
   The clock is looked at, not only waited for: a tablet that slept signs off when it wakes. */
"use strict";
(() => {
  // the last person's page must not come back from the browser's memory
  addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });

  const idle = document.getElementById("idle");
  if (!idle) return;
  const WARNING_MS = 60_000;
  const ASK_MS = 30_000;
  const ANSWER_MS = 4_000;
  const KEPT_MS = 24 * 3600_000;
  const { person, out, on, here, back } = idle.dataset;
  const idleMs = Number(idle.dataset.minutes) * 60_000;
  const warnMs = Math.max(idleMs - WARNING_MS, idleMs / 2);
  const TOUCHED = "idle-touched";
  const DRAFTS = `idle-draft ${person} `;

  const storage = (act) => {
    try {
      return act(localStorage);
    } catch {
      return null; // barred or full: this page then knows of itself only
    }
  };

  let touched = Date.now();
  let asked = touched;
  let gone = false;

  const lastTouch = () => Math.max(touched, Number(storage((kept) => kept.getItem(TOUCHED))) || 0);

  const touch = () => {
    if (gone) return;
    const now = Date.now();
    // what wakes a tablet that slept too long is not a sign of who was here before
    if (now - lastTouch() >= idleMs) return;
    if (now - touched > 1000) storage((kept) => kept.setItem(TOUCHED, String(now)));
    touched = now;
    if (now - asked < ASK_MS) return;
    asked = now;
    fetch(here, { cache: "no-store", redirect: "manual" }).catch(() => {});
  };

  /* drafts */
  const typed = (field) => {
    if (!field.name || field.disabled || field.dataset.seal !== undefined) return null;
    if (field.matches("[type=hidden], [type=password], [type=file], [type=submit], button")) return null;
    if (field.matches("[type=checkbox], [type=radio]")) {
      return field.checked === field.defaultChecked ? null : { checked: field.checked };
    }
    if (field.matches("select")) {
      const chosen = [...field.options].map((option) => option.selected);
      return [...field.options].every((option) => option.selected === option.defaultSelected) ? null : { chosen };
    }
    return field.value === field.defaultValue ? null : { value: field.value };
  };

  const forms = () =>
    [...document.querySelectorAll("main form")].filter(
      (form) => form.method === "post" && form.dataset.draft === undefined,
    );

  const keepDrafts = () => {
    const found = [];
    forms().forEach((form, which) => {
      [...form.elements].forEach((field) => {
        const kept = typed(field);
        if (kept) found.push({ which, name: field.name, of: field.type === "radio" || field.type === "checkbox" ? field.value : null, ...kept });
      });
    });
    if (!found.length) return;
    storage((kept) => kept.setItem(DRAFTS + location.pathname, JSON.stringify({ at: Date.now(), found })));
  };

  const giveBack = () => {
    const text = storage((kept) => kept.getItem(DRAFTS + location.pathname));
    if (!text) return;
    storage((kept) => kept.removeItem(DRAFTS + location.pathname));
    const { at, found } = JSON.parse(text);
    if (Date.now() - at > KEPT_MS) return;
    const all = forms();
    let isBack = false;
    for (const { which, name, of, value, checked, chosen } of found) {
      const fields = [...(all[which]?.elements || [])].filter((each) => each.name === name);
      const field = of === null ? fields[0] : fields.find((each) => each.value === of);
      if (!field) continue;
      isBack = true;
      if (checked !== undefined) field.checked = checked;
      else if (chosen) [...field.options].forEach((option, at) => (option.selected = chosen[at] === true));
      else field.value = value;
      field.closest("details")?.setAttribute("open", "");
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    const region = document.getElementById("messages");
    if (!isBack || !region) return;
    const line = document.createElement("p");
    line.className = "message";
    line.textContent = back;
    region.append(line);
  };

  /* signing off */
  const signOff = async () => {
    gone = true;
    keepDrafts();
    // the page goes at once: nobody reads it while the net is slow
    document.querySelector("main").hidden = true;
    const goal = `${on}?next=${encodeURIComponent(location.pathname + location.search)}&idle=1`;
    const form = document.querySelector("form[data-sign-off]");
    if (form && document.documentElement.dataset.outbox === "on") {
      // the outbox signs off without a net too, and then goes there
      form.dataset.signOff = goal;
      form.requestSubmit();
      return;
    }
    const token = JSON.parse(document.body.getAttribute("hx-headers") || "{}")["x-csrftoken"] || "";
    const body = new URLSearchParams({ csrfmiddlewaretoken: token });
    try {
      await fetch(out, { method: "POST", body, redirect: "manual", signal: AbortSignal.timeout(ANSWER_MS) });
    } catch {
      // without net the server ends the session by itself
    }
    location.replace(goal);
  };

  const look = () => {
    if (gone) return;
    const away = Date.now() - lastTouch();
    if (away >= idleMs) {
      signOff();
    } else if (away >= warnMs) {
      if (!idle.open) idle.showModal();
      idle.querySelector("[data-idle-left]").textContent = String(Math.ceil((idleMs - away) / 1000));
    } else if (idle.open) {
      idle.close();
    }
  };

  for (const name of ["pointerdown", "keydown", "wheel", "input"]) {
    addEventListener(name, touch, { capture: true, passive: true });
  }
  idle.addEventListener("close", () => {
    touch();
    asked = 0;
    touch();
  });
  document.addEventListener("visibilitychange", look);
  setInterval(look, 1000);
  storage((kept) => kept.setItem(TOUCHED, String(touched)));
  giveBack();
})();
