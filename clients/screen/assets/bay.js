// Improves pages that work without it: a number pad, lengths of time that move on, an undo that goes by itself, and
// one touch that counts once.
"use strict";
(() => {
  const UNDO_FOR = 20000;

  const undo = document.querySelector("[data-undo]");
  if (undo) {
    history.replaceState(null, "", location.pathname);
    setTimeout(() => undo.remove(), UNDO_FOR);
  }

  const pad = document.querySelector("[data-pad]");
  if (pad) {
    const field = document.getElementById(pad.dataset.pad);
    const key = (text, press) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      button.addEventListener("click", press);
      pad.append(button);
    };
    for (const digit of "123456789") key(digit, () => { field.value += digit; });
    key("⌫", () => { field.value = field.value.slice(0, -1); });
    key("0", () => { field.value += "0"; });
    pad.hidden = false;
  }

  for (const form of document.querySelectorAll("form")) {
    form.addEventListener("submit", (event) => {
      if (form.dataset.sent) event.preventDefault();
      form.dataset.sent = "yes";
    });
  }
  // A page that comes back from the browser's memory shows what was true then.
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
})();
