// Keeps a desk true: loads it anew when something happened in the shop, but never under a hand, and moves lengths of
// time on.
"use strict";
(() => {
  const desk = document.querySelector("[data-desk]");
  if (!desk) return;
  const shown = Number(desk.dataset.desk);
  const PACE = 4000;
  const HELD = 10000;
  const begun = performance.now();
  let touched = 0;
  let newer = false;

  const busy = () => performance.now() < touched || document.body.dataset.sent ||
    document.querySelector("main details[open]") ||
    [...document.querySelectorAll("main input:not([type=hidden])")].some((one) => one.value !== one.defaultValue || one.checked !== one.defaultChecked) ||
    /^(INPUT|SELECT|TEXTAREA)$/.test(document.activeElement ? document.activeElement.tagName : "");

  for (const name of ["pointerdown", "keydown"]) {
    document.addEventListener(name, () => { touched = performance.now() + HELD; });
  }
  const renew = () => {
    if (newer && !busy() && performance.now() - begun > PACE) location.reload();
  };
  const source = new EventSource("/events");
  source.addEventListener("wall", (event) => {
    if (JSON.parse(event.data).number > shown) newer = true;
    renew();
  });
  setInterval(renew, PACE);
})();
