// What makes the coordinator's pages more comfortable: counts while a blueprint
// is edited, a monitor that keeps itself up to date. Every page works without.
"use strict";

(() => {
  const parse = (html) => new DOMParser().parseFromString(html, "text/html");

  // Puts new content into what is marked data-live, and only where it differs, so
  // that a screen reader says no more than what is new.
  const freshen = (page) => document.querySelectorAll("[data-live]").forEach((old) => {
    const now = page.getElementById(old.id);
    if (now && now.innerHTML !== old.innerHTML) old.innerHTML = now.innerHTML;
  });

  // Asks for the page again every few seconds and swaps the part that is marked
  // data-refresh, until the part that comes is not.
  const watch = (part) => {
    const seconds = Number(part.dataset.refresh);
    const again = () => setTimeout(async () => {
      if (document.hidden) return again();
      try {
        const res = await fetch(location.pathname + location.search, { credentials: "same-origin", headers: { Accept: "text/html" } });
        if (res.redirected) return location.reload(); // signed out, perhaps
        if (!res.ok) return again();
        const page = parse(await res.text());
        freshen(page);
        const now = page.getElementById(part.id);
        if (!now) return;
        const had = part.contains(document.activeElement) ? document.activeElement : null;
        const scrolled = [...part.querySelectorAll(".scroll")].map((x) => x.scrollLeft);
        part.replaceWith(now);
        now.querySelectorAll(".scroll").forEach((x, i) => { x.scrollLeft = scrolled[i] || 0; });
        if (had) {
          const same = had.id ? document.getElementById(had.id) : had.classList.contains("scroll") ? now.querySelector(".scroll") : null;
          if (same) same.focus({ preventScroll: true });
        }
        part = now;
        if (now.dataset.refresh) again();
      } catch (_) { again(); } // no connection: try later
    }, seconds * 1000);
    again();
  };
  document.querySelectorAll("[data-refresh]").forEach(watch);

  // Counts the questions while the blueprint is edited.
  const form = document.getElementById("blueprint");
  if (form) {
    let timer = 0, last = null;
    const count = async () => {
      if (last) last.abort();
      last = new AbortController();
      const body = new URLSearchParams(new FormData(form));
      body.set("do", "count");
      try {
        const res = await fetch(form.action, { method: "POST", body, credentials: "same-origin", signal: last.signal });
        if (res.ok || res.status === 422) freshen(parse(await res.text()));
      } catch (_) { /* the next change counts again */ }
    };
    form.addEventListener("input", (e) => {
      if (e.target.name === "yaml") return;
      clearTimeout(timer);
      timer = setTimeout(count, 600);
    });
  }

  // A file that is too large is not sent at all.
  document.querySelectorAll("[data-most] input[type=file]").forEach((input) => {
    const box = input.closest("[data-most]");
    input.addEventListener("change", () => {
      const file = input.files[0];
      input.setCustomValidity(file && file.size > Number(box.dataset.most) * 1048576 ? box.dataset.large : "");
      input.reportValidity();
    });
  });
})();
