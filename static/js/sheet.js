/* The task sheet. All its steps are on the page; data-state of a [data-step] says how it is shown.

   Where the tablet keeps what is handed in (outbox.js), a step that was kept folds at once and the
   next one opens, whether a server answers or not; what waits is shown again after a reload, and
   what was taken stays shown on a copy of the sheet that is older. Where it does not, htmx brings
   the sheet anew. Either way: limits are said while a value is typed, and what is half typed is
   there again after a reload, for whoever typed it. */
"use strict";
(() => {
  const sheet = () => document.getElementById("sheet");
  const all = (selector, root = sheet()) => (root ? [...root.querySelectorAll(selector)] : []);
  const stepOf = (key) => all("[data-step]").find((turn) => turn.dataset.step === key);
  const isOn = () => document.documentElement.dataset.outbox === "on";
  const remember = (key, value) => {
    try {
      if (value === null) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(value));
    } catch {
      /* storage is full or barred: the outbox says so itself, and a draft is a courtesy */
    }
  };
  const recall = (key) => {
    try {
      return JSON.parse(localStorage.getItem(key));
    } catch {
      return null;
    }
  };

  /* --- whose turn it is */

  const turns = () => all("[data-step]").filter((turn) => turn.dataset.state !== "named");
  const isOpen = (turn) => ["now", "next", "later"].includes(turn.dataset.state);

  const arrange = () => {
    const open = turns().filter((turn) => isOpen(turn) && !turn.closest("[data-outcome]:not([data-outcome=''])"));
    for (const turn of turns()) {
      if (isOpen(turn)) turn.dataset.state = "later";
      if (turn.id === "now") turn.removeAttribute("id");
    }
    for (const count of all("[data-done-count]")) {
      count.textContent = String(count.closest("[data-task]").querySelectorAll('[data-step][data-state="done"]').length);
    }
    if (open[1]) open[1].dataset.state = "next";
    if (!open[0]) return null;
    open[0].dataset.state = "now";
    open[0].id = "now";
    if (open[0].dataset.step === "sign") proposeMinutes();
    return open[0];
  };

  /* as the server proposes them: the minutes since the work began, unless that is too long ago */
  const MOST_MINUTES = 720;
  let begunAt = 0;
  const proposeMinutes = () => {
    const field = document.getElementById("sign_minutes");
    const minutes = Math.max(1, Math.round((Date.now() - begunAt) / 60000));
    if (begunAt && field && !field.value && minutes <= MOST_MINUTES) field.value = String(minutes);
  };

  /* the present step lies at the lower edge of the screen, where the thumb is */
  const goTo = (turn) => {
    if (!turn) return;
    const tall = turn.getBoundingClientRect().height > innerHeight - 120;
    turn.scrollIntoView({ block: tall ? "start" : "end" });
    const field = turn.querySelector("[data-first-field] input");
    const goal = field && field.offsetParent ? field : turn.querySelector(".step__title");
    goal?.focus({ preventScroll: true });
  };

  /* --- limits, as the server judges them */

  const limit = (text) => (text === "" ? null : readNumber(text, "en"));
  const judge = (input) => {
    const box = input.closest("[data-judge]");
    if (!box) return null;
    const number = readNumber(input.value, sheet().dataset.language);
    if (number === null || number === "two") return { number, side: "" };
    const [low, high] = [limit(box.dataset.low), limit(box.dataset.high)];
    if (low !== null && number < low) return { number, side: "low" };
    if (high !== null && number > high) return { number, side: "high" };
    return { number, side: "" };
  };

  const sayLimits = (input) => {
    const box = input.closest("[data-judge]");
    const found = judge(input);
    const words = sheet().dataset;
    const line = box.querySelector(".step__judged");
    let said = "";
    if (!input.value.trim()) said = "";
    else if (found.number === "two") said = words.twoNumbers;
    else if (found.number === null) said = words.noNumber;
    else if (found.side) {
      const bound = box.closest("form").querySelector(".step__title + p")?.textContent.trim();
      said = `${words[found.side]} ${bound}. ${words.outside}`;
    }
    if (line.textContent !== said) line.textContent = said;
    input.setCustomValidity(found.number === null || found.number === "two" ? said : "");
    const why = box.closest("form").querySelector("[data-why]");
    const stood = box.closest("form").querySelector("[data-stood]");
    why.hidden = !found.side && stood.hidden;
  };

  let pause = 0;
  document.addEventListener("input", (event) => {
    if (event.target.closest?.("#sheet [data-judge]")) {
      clearTimeout(pause);
      pause = setTimeout(() => sayLimits(event.target), 350);
    }
  });
  document.addEventListener("change", (event) => {
    if (event.target.closest?.("#sheet [data-judge]")) sayLimits(event.target);
  });

  /* What the server would refuse is said before the tablet keeps it: a text that is no number, or
     none of the fields of which one is needed (data-needs of the button or the form), or not what
     the fields in data-if want beside them (data-then). Enter in a field presses the button, so that
     every form of the sheet passes here. */
  addEventListener(
    "click",
    (event) => {
      const button = event.target.closest?.("#sheet button[type=submit]");
      if (!button?.form) return;
      const { form } = button;
      const input = form.querySelector("[data-judge] input");
      if (input) sayLimits(input);
      for (const line of all("[data-wanting]")) line.remove();
      const named = (names) => (names || "").split(" ").flatMap((name) => [...form.elements].filter((field) => field.name === name));
      const isGiven = (field) => (field.matches("[type=radio], [type=checkbox]") ? field.checked : field.type !== "submit" && field.value.trim() !== "");
      for (const field of form.elements) if (field !== input) field.setCustomValidity?.("");
      const ask = (fields, said) => (fields.find((field) => field.offsetParent) || fields[0])?.setCustomValidity(said);
      const { needs, needsSaid } = button.dataset.needs ? button.dataset : form.dataset;
      const { if: given, then, thenSaid } = form.dataset;
      if (needs && !named(needs).some(isGiven)) ask(named(needs), needsSaid);
      else if (then && named(given).some(isGiven) && !named(then).some(isGiven)) ask(named(then), thenSaid);
    },
    true,
  );

  /* the browser's own bubble takes the next tap for itself: what is wanting is said beside the field */
  let isSaid = false;
  document.addEventListener(
    "invalid",
    (event) => {
      const field = event.target;
      if (!field.closest("#sheet")) return;
      event.preventDefault();
      if (isSaid) return;
      isSaid = true;
      setTimeout(() => (isSaid = false));
      field.closest("details")?.setAttribute("open", "");
      if (!field.closest("[data-judge]") || field.validity.valueMissing) {
        const line = document.createElement("p");
        line.className = "field__error";
        line.dataset.wanting = "";
        line.setAttribute("role", "alert");
        line.textContent = field.validationMessage;
        field.closest(".field, .grade, fieldset, .row").append(line);
      }
      field.focus();
    },
    true,
  );

  /* --- drafts, each for its owner */

  let owner = "";
  const draftKey = () => `draft-${owner}-${sheet().dataset.subject}`;
  const isDrafted = (field) =>
    field.name && field.matches("input, textarea, select") && !field.matches("[type=hidden], [type=file], [type=password], [data-seal]");

  const keepDraft = (form) => {
    if (!owner || !form?.dataset.draft) return;
    const drafts = recall(draftKey()) || {};
    const fields = {};
    for (const field of form.elements) {
      if (!isDrafted(field)) continue;
      if (field.matches("[type=radio], [type=checkbox]")) {
        if (field.checked !== field.defaultChecked) fields[`${field.name}=${field.value}`] = field.checked;
      } else if (field.value !== field.defaultValue) fields[field.name] = field.value;
    }
    if (Object.keys(fields).length) drafts[form.dataset.draft] = fields;
    else delete drafts[form.dataset.draft];
    remember(draftKey(), Object.keys(drafts).length ? drafts : null);
  };

  const dropDraft = (key) => {
    const drafts = owner && recall(draftKey());
    if (!drafts || !(key in drafts)) return;
    delete drafts[key];
    remember(draftKey(), Object.keys(drafts).length ? drafts : null);
  };

  const giveDrafts = () => {
    const drafts = owner && recall(draftKey());
    if (!drafts) return;
    for (const form of all("form[data-draft]")) {
      const turn = form.closest("[data-step]");
      if (turn && !isOpen(turn)) continue;
      for (const [name, value] of Object.entries(drafts[form.dataset.draft] || {})) {
        for (const field of form.elements) {
          if (!isDrafted(field)) continue;
          if (`${field.name}=${field.value}` === name && typeof value === "boolean") field.checked = value;
          else if (field.name === name && typeof value === "string" && !field.matches("[type=radio], [type=checkbox]")) {
            field.value = value;
            field.closest("details")?.setAttribute("open", "");
            if (field.closest("[data-judge]")) sayLimits(field);
          }
        }
      }
    }
  };
  document.addEventListener("input", (event) => keepDraft(event.target.form));
  document.addEventListener("change", (event) => keepDraft(event.target.form));

  /* --- what was handed in, shown on the sheet as it will stand */

  const clock = (at) =>
    new Date(at).toLocaleTimeString(sheet().dataset.language, { timeZone: sheet().dataset.zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

  const fold = (turn, { at, said, why = "", waits }) => {
    turn.dataset.state = "done";
    const put = (name, text) => {
      const place = turn.querySelector(`[data-when="done"] [data-${name}]`);
      if (place) place.textContent = text;
    };
    put("at", clock(at));
    put("out", why ? `${said}. ${why}` : said);
    const mark = turn.querySelector("[data-waits]");
    if (mark) mark.hidden = !waits;
  };

  const written = (turn, fields) => {
    const words = sheet().dataset;
    const value = fields.value || "";
    switch (turn.dataset.kind) {
      case "tick":
        return words.ticked;
      case "value":
        return `${value} ${turn.querySelector("[data-judge]")?.dataset.unit || ""}`.trim();
      case "photo": {
        const why = fields.without_photo || fields.value;
        return fields.photo || !why ? words.photographed : `${words.noPhoto} ${why}`;
      }
      case "position":
        return [fields.place, value].filter(Boolean).join(": ");
      default:
        return value;
    }
  };

  /* a value outside its limits stands, and the step stays open for a second one or a reason */
  const standsOutside = (turn, fields) => {
    const form = turn.querySelector("form[data-when]");
    const stood = form?.querySelector("[data-stood]");
    if (!stood || !stood.hidden || fields.reason) return false;
    const input = form.elements.namedItem("value");
    const typed = input.value;
    input.value = fields.value;
    const side = judge(input)?.side;
    input.value = typed;
    if (!side) return false;
    stood.hidden = false;
    for (const each of stood.querySelectorAll("[data-side]")) each.hidden = each.dataset.side !== side;
    stood.querySelector("[data-stood-value]").textContent = written(turn, fields);
    input.value = "";
    input.required = false;
    sayLimits(input);
    return true;
  };

  const setOutcome = (task, outcome, reason) => {
    for (const part of all("[data-task], [data-sum]")) {
      if ((part.dataset.task || part.dataset.sum) !== task) continue;
      part.dataset.outcome = outcome;
      const place = part.querySelector("[data-reason]");
      if (place) place.textContent = reason || "–";
    }
  };

  const apply = ({ fields, at, waits, reason = "" }) => {
    begunAt = begunAt || at;
    const act = (fields.do || "").split(":")[0];
    const turn = stepOf(act === "step" || act === "again" ? fields.step : act);
    switch (act) {
      case "look":
      case "step": {
        if (!turn || turn.dataset.state === "named") return;
        if (act === "step" && standsOutside(turn, fields)) return;
        fold(turn, { at, said: written(turn, fields), why: fields.reason, waits });
        if (act === "look") sheet().querySelector(".caution details")?.removeAttribute("open");
        return;
      }
      case "again":
        if (turn && turn.dataset.state === "done") {
          turn.dataset.state = "later";
          const stood = turn.querySelector("[data-stood]");
          if (stood) stood.hidden = true;
        }
        return;
      case "leave":
      case "not_needed":
        setOutcome(fields.task, act === "leave" ? "left" : act, fields.reason || reason);
        return;
      case "take_up":
        setOutcome(fields.task, "", "");
        return;
      case "found":
      case "sign":
        if (turn) turn.dataset.state = "done";
        if (act === "sign") sheet().dataset.signed = "";
        return;
      case "take_in":
        for (const part of all("[data-part]")) if (part.dataset.part === fields.part) part.hidden = true;
        return;
      case "after":
        for (const part of all("[data-after]")) part.hidden = true;
    }
  };

  /* --- what this tablet did, for a copy of the sheet that does not know it yet */

  const journalKey = () => `sheet-${sheet().dataset.subject}`;
  const journal = () => recall(journalKey()) || [];
  // what a form is about to send, its pressed button included; the outbox reads it the same way
  let sent = null;
  document.addEventListener("formdata", (event) => {
    const form = event.target;
    if (!form.closest("#sheet")) return;
    const fields = {};
    for (const [name, value] of event.formData) {
      if (name === "csrfmiddlewaretoken" || name === "hand_in") continue;
      if (form.querySelector(`[data-seal][name="${name}"]`)) continue;
      fields[name] = typeof value === "string" ? value : Boolean(value.size);
    }
    sent = { form, fields };
  });

  document.addEventListener("outbox:kept", (event) => {
    const form = event.target;
    if (!form.closest?.("#sheet") || sent?.form !== form) return;
    const { subject } = sheet().dataset;
    if (event.detail.subject !== subject) return;
    const ready = (sent.fields.do || "").includes(":") && form.querySelector(`[value="${sent.fields.do}"]`);
    const item = {
      fields: sent.fields,
      reason: ready ? ready.textContent.trim() : "",
      handIn: event.detail.handIn,
      at: Date.now(),
      version: sheet().dataset.version,
    };
    remember(journalKey(), [...journal(), item]);
    dropDraft(form.dataset.draft);
    // the same form may be used again: a tick is taken back and ticked anew
    form.elements.namedItem("hand_in").value = "";
    form.dataset.kept = "";
    apply({ ...item, waits: true });
    if (!form.dataset.when && !form.closest("[data-step]")) form.reset();
    form.closest("details")?.removeAttribute("open");
    goTo(arrange());
  });

  document.addEventListener("outbox:answered", (event) => {
    const { handIn, subject, state, said } = event.detail;
    if (!sheet() || subject !== sheet().dataset.subject) return;
    const item = journal().find((each) => each.handIn === handIn);
    if (!item) return;
    if (state === "taken" && item.fields.do === "sign") {
      remember(journalKey(), null);
      remember(draftKey(), null);
      location.assign(sheet().dataset.order);
      return;
    }
    const turn = stepOf(item.fields.step || item.fields.do);
    const mark = turn?.querySelector("[data-waits]");
    if (mark && state === "taken") mark.hidden = true;
    if (mark && state === "refused") {
      mark.textContent = `${sheet().dataset.refused} ${said}`;
      mark.hidden = false;
    }
  });

  const showWaiting = async () => {
    const items = journal();
    if (!items.length) return;
    const waiting = new Map((await window.outbox.waiting(sheet().dataset.subject)).map((each) => [each.handIn, each]));
    const isCopy = "pack" in sheet().dataset;
    const kept = items.filter((item) => waiting.has(item.handIn) || (isCopy && item.version === sheet().dataset.version));
    remember(journalKey(), kept.length ? kept : null);
    for (const item of kept) apply({ ...item, waits: waiting.has(item.handIn) });
    if (kept.length) arrange();
  };

  const begin = async () => {
    owner = sheet().dataset.person || "";
    if (isOn()) {
      owner = String((await window.outbox.here())?.person ?? owner);
      await showWaiting();
    }
    giveDrafts();
  };

  document.addEventListener("htmx:afterRequest", (event) => {
    const key = event.detail.elt?.dataset?.draft;
    if (key && event.detail.successful) dropDraft(key);
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.detail.elt?.id !== "sheet") return;
    giveDrafts();
    if (!document.querySelector("#sheet .errors")) goTo(document.getElementById("now"));
  });
  if (!sheet()) return;
  begin();
  if (location.hash === "#now" && !document.querySelector(".errors")) goTo(document.getElementById("now"));
  // the tablet's store opens after the page does
  new MutationObserver(() => isOn() && begin()).observe(document.documentElement, { attributeFilter: ["data-outbox"] });
})();
