// What makes the pages more comfortable. Every page works without it.
"use strict";

// A form that was sent is not sent again by a second click; the server would
// count it once all the same.
document.addEventListener("submit", (e) => {
  if (e.defaultPrevented) return;
  const form = e.target;
  if (form.dataset.sent) { e.preventDefault(); return; }
  if (form.method === "post" && !form.dataset.again) {
    form.dataset.sent = "1";
    setTimeout(() => delete form.dataset.sent, 4000);
  }
});
// Back to a page: its forms may be sent again.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((f) => delete f.dataset.sent));

// Ask before what cannot be undone: <button data-ask="Really?">.
document.addEventListener("click", (e) => {
  const b = e.target.closest("[data-ask]");
  if (b && !confirm(b.dataset.ask)) e.preventDefault();
});

// Choices of the footer apply at once.
document.querySelectorAll("footer select").forEach((s) => s.addEventListener("change", () => s.form.requestSubmit()));
