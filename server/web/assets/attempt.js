// Saves the answers of a quiz as they are given, and shows the time that is left.
// What was not acknowledged by the server stays in a queue on this device and is
// sent again; without this script the buttons of the page save.
"use strict";
(() => {
  const form = document.querySelector("form[data-attempt]");
  const box = document.querySelector("[data-saving]");
  if (!form || !box) return;
  const attempt = form.dataset.attempt;
  const question = form.dataset.question; // absent on the page for handing in
  const store = "rightpage answers " + attempt;
  const grace = 6000; // the server takes what was on its way for 5 s

  // The queue: question → {key, base, spent, fields}. In memory where the
  // browser keeps nothing.
  let memory = {};
  const read = () => {
    try { return JSON.parse(localStorage.getItem(store)) || {}; } catch { return memory; }
  };
  const write = (q) => {
    memory = q;
    try {
      if (Object.keys(q).length) localStorage.setItem(store, JSON.stringify(q));
      else localStorage.removeItem(store);
    } catch { /* in memory only */ }
  };
  const newKey = () => Array.from(crypto.getRandomValues(new Uint8Array(10)), (b) => b.toString(16).padStart(2, "0")).join("");

  // What is said of saving.
  const say = (what, extra) => {
    const text = box.dataset[what] || "";
    const full = extra ? text + " " + extra : text;
    if (box.textContent !== full) box.textContent = full;
    box.className = "saving " + what;
    const link = document.querySelector("[data-signin-link]");
    if (link) link.hidden = what !== "signin";
  };
  const at = (ms) => new Intl.DateTimeFormat(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", second: "2-digit" }).format(new Date(ms));

  // The fields of the answer.
  const isAnswer = (name) => /^(answer|number|unit|place\d+|step\d+)$/.test(name);
  const fields = () => [...new FormData(form)].filter(([name]) => isAnswer(name)).map(([n, v]) => [n, String(v)]);
  const fill = (list) => {
    for (const el of form.elements) {
      if (!isAnswer(el.name)) continue;
      const values = list.filter(([n]) => n === el.name).map(([, v]) => v);
      if (el.type === "radio" || el.type === "checkbox") el.checked = values.includes(el.value);
      else if (values.length) el.value = values[0];
    }
  };

  // Time on the question since the last save. A long stretch without a sign of
  // life is a break; the server bounds it once more.
  let since = performance.now();
  const spent = () => Math.round(Math.min(performance.now() - since, 20 * 60000));

  let seen = "";
  const changed = () => {
    if (!question) return;
    const now = fields(), text = JSON.stringify(now);
    if (text === seen) return;
    seen = text;
    const q = read(), had = q[question];
    q[question] = { key: newKey(), base: had ? had.base : Number(form.elements.base.value), spent: spent() + (had ? had.spent : 0), fields: now };
    since = performance.now();
    write(q);
    say("waiting");
    schedule(400);
  };

  // Sends the queue. True: everything is acknowledged.
  let timer = 0, delay = 1000, running = null;
  const schedule = (ms) => { clearTimeout(timer); timer = setTimeout(flush, ms); };
  const retry = () => { schedule(delay); delay = Math.min(delay * 2, 30000); };
  const flush = () => { running = running || send().finally(() => { running = null; }); return running; };
  const csrf = () => document.querySelector('input[name="csrf"]').value;

  const send = async () => {
    for (const n of Object.keys(read())) {
      const entry = read()[n];
      if (!entry || entry.refused) continue;
      const body = new URLSearchParams([["csrf", csrf()], ["key", entry.key], ["base", entry.base], ["spent", entry.spent], ...entry.fields]);
      let res, answer = {};
      try {
        res = await fetch("/attempts/" + attempt + "/questions/" + n, { method: "POST", headers: { Accept: "application/json" }, body, keepalive: true, redirect: "error" });
        answer = await res.json();
      } catch {
        if (!res) { say("offline"); retry(); return false; }
      }
      const q = read(), same = q[n] && q[n].key === entry.key;
      if (res.ok) {
        if (same) delete q[n];
        else if (q[n]) q[n].base = answer.version;
        write(q);
        if (n === question) form.elements.base.value = answer.version;
        if (answer.left) clock.set(answer.left);
        delay = 1000;
        say("saved", at(answer.at));
        if (!same && q[n]) schedule(200);
      } else if (res.status === 401) {
        say("signin"); retry(); return false;
      } else if (res.status === 409 && answer.code === "conflict") {
        if (same) { q[n].refused = "conflict"; q[n].version = answer.version; q[n].saved = answer.saved; write(q); }
        if (n === question) conflict();
      } else if (res.status === 409) {
        delete q[n]; write(q); say("closed");
        setTimeout(() => location.assign("/attempts/" + attempt), 4000);
        return false;
      } else if (res.status === 403) {
        say("page"); return false;
      } else if (res.status === 422 || res.status === 404 || res.status === 413) {
        // It stays on the page; the button sends it and the page says what is wrong.
        if (same) { delete q[n]; write(q); }
        say("other", Object.values(answer.faults || {}).join(" "));
      } else {
        say("busy"); retry(); return false;
      }
    }
    return Object.keys(read()).length === 0;
  };

  // Changed in two places: both are shown, and the person chooses.
  const clash = form.querySelector("[data-conflict]");
  const conflict = () => {
    const entry = read()[question];
    if (!clash || !entry || entry.refused !== "conflict") return;
    clash.querySelector("[data-conflict-saved]").textContent = (entry.saved || []).join("; ") || "–";
    clash.hidden = false;
    clash.setAttribute("role", "alert");
    clash.scrollIntoView({ block: "nearest" });
    say("");
  };
  if (clash) {
    clash.querySelector("[data-conflict-mine]").addEventListener("click", () => {
      const q = read(), entry = q[question];
      if (entry) { q[question] = { key: newKey(), base: entry.version, spent: entry.spent, fields: fields() }; write(q); }
      clash.hidden = true;
      flush();
    });
    clash.querySelector("[data-conflict-theirs]").addEventListener("click", () => {
      const q = read(); delete q[question]; write(q);
      location.reload();
    });
  }

  // Time left, by the server's clock: what stands on this device does not count.
  const clock = (() => {
    const el = document.querySelector("[data-deadline]");
    const warn = document.querySelector("[data-warnings]");
    if (!el) return { set() {} };
    let left = Number(el.dataset.deadline) - Number(el.dataset.now), from = performance.now(), over = false;
    const told = {};
    const small = el.querySelector("small");
    const tick = () => {
      const ms = Math.max(0, left - (performance.now() - from)), s = Math.ceil(ms / 1000);
      const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60, two = (x) => String(x).padStart(2, "0");
      const text = (h ? h + ":" + two(m) : m) + ":" + two(s % 60);
      el.firstChild.textContent = box.dataset.left.replace("¤", text) + " ";
      if (small) el.append(small);
      el.classList.toggle("short", ms < 5 * 60000);
      for (const [limit, name] of [[60000, "one"], [5 * 60000, "five"]]) {
        if (ms < limit) { if (!told[name] && ms > 0) warn.textContent = warn.dataset[name]; told[name] = true; if (name === "one") told.five = true; break; }
      }
      if (ms === 0 && !over) {
        over = true;
        warn.textContent = warn.dataset.up;
        changed(); flush();
        setTimeout(() => location.assign("/attempts/" + attempt), grace);
      }
    };
    setInterval(tick, 1000); tick();
    return { set(ms) { left = ms; from = performance.now(); } };
  })();

  // What an earlier page could not send is put back, then sent.
  if (question) {
    const entry = read()[question];
    if (entry) { fill(entry.fields); seen = JSON.stringify(fields()); } else seen = JSON.stringify(fields());
    let typing = 0;
    form.addEventListener("input", () => { clearTimeout(typing); typing = setTimeout(changed, 700); });
    form.addEventListener("change", (e) => {
      // Two options cannot have the same place: they change it.
      if (/^place\d+$/.test(e.target.name || "") && e.target.value !== "0") {
        for (const el of form.elements) {
          if (el !== e.target && /^place\d+$/.test(el.name || "") && el.value === e.target.value) el.value = e.target.dataset.was || "0";
        }
      }
      for (const el of form.elements) if (/^place\d+$/.test(el.name || "")) el.dataset.was = el.value;
      clearTimeout(typing); changed();
    });
    for (const el of form.elements) if (/^place\d+$/.test(el.name || "")) el.dataset.was = el.value;
    conflict();
  }
  flush();
  for (const event of ["online", "focus", "pageshow"]) addEventListener(event, () => { if (Object.keys(read()).length) { delay = 1000; flush(); } });
  document.addEventListener("visibilitychange", () => { if (question) changed(); flush(); });
  addEventListener("storage", (e) => { if (e.key === store && Object.keys(read()).length) schedule(500); });

  // Moving on and handing in wait until everything is acknowledged.
  form.addEventListener("submit", async (e) => {
    const button = e.submitter;
    if (form.dataset.go) return;
    if (button && button.value === "clear") { const q = read(); delete q[question]; write(q); return; }
    if (question) changed();
    if (!Object.keys(read()).length) return;
    e.preventDefault();
    clearTimeout(timer);
    if (running) await running;
    const done = await flush();
    const waiting = read();
    if (question ? waiting[question] : !done) {
      const clashes = Object.keys(waiting).filter((n) => waiting[n].refused);
      if (question) conflict();
      else if (clashes.length) say("clash", clashes.join(", "));
      return;
    }
    // The answer is saved: the form only moves on.
    if (button && button.name) {
      const go = document.createElement("input");
      go.type = "hidden"; go.name = button.name; go.value = button.value;
      form.append(go);
    }
    form.dataset.go = "1";
    form.submit();
  });
  addEventListener("pageshow", () => {
    delete form.dataset.go;
    form.querySelectorAll('input[type=hidden][name="go"]').forEach((el) => el.remove());
  });
})();
