// Keeps a desk true: loads it anew when something happened in the shop, but never under a hand, and moves lengths of
// time on.
"use strict";
(() => {
  const desk = document.querySelector("[data-desk]");
  if (!desk) return;
  const shown = Number(desk.dataset.desk);
  const PACE = 4000;
  const HELD = 10000;
  // What was answered to a touch stays for so long.
  const ANSWERED = 20000;
  const begun = performance.now();
  let touched = 0;
  let newer = false;

  const answered = () => performance.now() - begun < ANSWERED && document.querySelector(".said > *, .answered > *");
  const busy = () => performance.now() < touched || document.body.dataset.sent || answered() ||
    document.querySelector("main details[open]") ||
    [...document.querySelectorAll("main input:not([type=hidden])")].some((one) => one.value !== one.defaultValue || one.checked !== one.defaultChecked) ||
    /^(INPUT|SELECT|TEXTAREA)$/.test(document.activeElement ? document.activeElement.tagName : "");

  for (const name of ["pointerdown", "keydown"]) {
    document.addEventListener(name, () => { touched = performance.now() + HELD; });
  }
  const renew = () => {
    if (newer && !busy() && performance.now() - begun > PACE) location.reload();
    tell();
  };
  // Parts of the wall as they were first heard, and those that are otherwise by now.
  const parts = new Map();
  const changed = new Set();
  // A form that is open stays as it is, and says that its job has changed.
  const tell = () => {
    for (const one of document.querySelectorAll("main details.fold[data-part]")) {
      const line = one.querySelector("[data-changed-line]");
      if (line && one.open && changed.has(one.dataset.part)) line.hidden = false;
    }
  };
  document.addEventListener("toggle", tell, true);
  const source = new EventSource("/events");
  source.addEventListener("wall", (event) => {
    const word = JSON.parse(event.data);
    if (word.number > shown) newer = true;
    for (const [name, html] of Object.entries(word.parts)) {
      if (parts.has(name) && parts.get(name) !== html) changed.add(name);
      parts.set(name, html);
    }
    renew();
  });
  setInterval(renew, PACE);
})();
