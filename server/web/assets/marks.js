// What makes typing answers from paper fast: Enter goes to the next field, and
// from the last one to the button. Every page works without.
"use strict";

(() => {
  const fields = [...document.querySelectorAll("input[data-enter]")];
  const seen = (x) => x.offsetParent !== null; // not within something folded
  fields.forEach((field) => {
    field.addEventListener("keydown", (e) => {
      if (e.key !== "Enter" || e.isComposing || e.ctrlKey || e.metaKey) return;
      e.preventDefault();
      const shown = fields.filter((x) => x.form === field.form && seen(x));
      const next = shown[shown.indexOf(field) + (e.shiftKey ? -1 : 1)];
      if (next) { next.focus(); next.select(); return; }
      const save = field.form.querySelector("button[data-save]");
      if (save && !e.shiftKey) save.focus();
    });
  });
  const who = document.getElementById("f-who");
  if (who && who.value) who.select();

  // A fault within something folded is shown.
  document.querySelectorAll("details input[aria-invalid=true]").forEach((x) => { x.closest("details").open = true; });

  // Files that are too large together are not sent at all.
  document.querySelectorAll("[data-most] input[type=file]").forEach((input) => {
    const box = input.closest("[data-most]");
    input.addEventListener("change", () => {
      const bytes = [...input.files].reduce((sum, f) => sum + f.size, 0);
      input.setCustomValidity(bytes > Number(box.dataset.most) * 1048576 ? box.dataset.large : "");
      input.reportValidity();
    });
  });
})();
