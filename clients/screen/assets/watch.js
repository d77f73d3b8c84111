// Keeps the page of a bay true: asks for it anew when something happened, moves lengths of time on, and says when
// nothing is heard. What a person has open or is touching stays as it is until that is over.
"use strict";
(() => {
  const body = document.body;
  const words = JSON.parse(body.dataset.words);
  const live = document.getElementById("live");
  // The screen's program says something at least every four seconds.
  const SILENCE = 12000;
  // A stream that says nothing for so long is opened anew.
  const GIVE_UP = 20000;
  const AGAIN = 2000;
  // A page that is known to be old is called so when a newer one did not come within this time.
  const LATE = 5000;

  let source = null;
  let reopen = 0;
  let heard = performance.now();
  // The server's moment, moved on by this machine's count of milliseconds, whatever its clock says.
  let server = { now: Number(body.dataset.now), at: heard };
  let silent = null;
  let number = Number(body.dataset.number);
  let last = null;
  // Since when something is known to have happened that the page may not show.
  let behind = null;
  let asking = null;
  let askNext = 0;
  // Until when a finger may still be on something; one that is never lifted counts no longer than this.
  let touched = 0;
  const HELD = 10000;
  // The click that a touch ends in comes after it.
  const LIFTED = 300;

  const now = () => server.now + (performance.now() - server.at);

  // As the server says it: "2 h 05 min", "45 min", "12 s".
  const length = (ms) => {
    const seconds = Math.max(0, Math.floor(ms / 1000));
    const hours = Math.floor(seconds / 3600);
    const minutes = Math.floor((seconds % 3600) / 60);
    if (hours > 0) return `${hours} h ${String(minutes).padStart(2, "0")} min`;
    return minutes > 0 || seconds === 0 ? `${minutes} min` : `${seconds} s`;
  };

  const put = (element, text) => {
    if (element.textContent !== text) element.textContent = text;
  };

  // Whether a touch is under way, a form was sent, or something is being chosen or filled.
  const busy = () => performance.now() < touched || body.dataset.sent || document.querySelector("main details[open]:not([data-shown])") ||
    /^(INPUT|SELECT|TEXTAREA)$/.test(document.activeElement ? document.activeElement.tagName : "");

  const tick = () => {
    const moment = performance.now();
    for (const time of document.querySelectorAll("time[data-since]")) put(time, length(now() - Number(time.dataset.since)));
    const unheard = moment - heard;
    const late = behind === null ? 0 : moment - behind;
    const say = (key, ms) => words[key].replace("{s}", String(Math.floor(ms / 1000)));
    let text = words.live;
    let stale = true;
    if (unheard >= SILENCE) text = say("no-word-from-screen", unheard);
    else if (silent !== null) text = say("no-word-from-server", moment - silent);
    else if (late >= LATE && !busy()) text = say("no-word-from-server", late);
    else stale = false;
    const changed = !stale && late >= LATE;
    if (changed) text = words["changed-meanwhile"];
    body.classList.toggle("stale", stale);
    body.classList.toggle("changed", changed);
    put(live, text);
    if (unheard >= GIVE_UP && moment > reopen) open();
    if (behind !== null) renew();
  };

  // Puts the page that came in place of what is shown; what was said once stays until the person goes on.
  const take = (page) => {
    const fresh = page.body;
    number = Math.max(number, Number(fresh.dataset.number));
    server = { now: Number(fresh.dataset.now), at: performance.now() };
    if (fresh.dataset.mark === body.dataset.mark) return;
    body.dataset.mark = fresh.dataset.mark;
    const main = page.querySelector("main");
    const told = new Set([...main.querySelectorAll(".note")].map((note) => note.textContent));
    const kept = [...document.querySelectorAll(".said > .note, .answered > .note")].filter((note) => !told.has(note.textContent));
    const way = kept.length > 0 && !main.querySelector(".note-way") ? [...document.querySelectorAll(".said > .note-way, .answered > .note-way")] : [];
    const said = main.querySelector(".said");
    said.prepend(...kept, ...way);
    const before = document.querySelector("main .said");
    said.classList.toggle("old", before.classList.contains("old"));
    if (kept.length > 0) for (const name of ["tabindex", "role", "aria-label"]) if (before.hasAttribute(name)) said.setAttribute(name, before.getAttribute(name));
    document.querySelector("header").replaceWith(page.querySelector("header"));
    document.querySelector("main").replaceWith(main);
    document.dispatchEvent(new Event("renewed"));
    body.dataset.changed = String(performance.now());
  };

  const renew = async () => {
    const moment = performance.now();
    if (asking || moment < askNext || busy()) return;
    askNext = moment + AGAIN;
    const since = behind;
    asking = new AbortController();
    const giveUp = setTimeout(() => asking && asking.abort(), GIVE_UP);
    try {
      const undo = new URLSearchParams(location.search).get("undo");
      const more = undo === null ? "" : `&undo=${encodeURIComponent(undo)}`;
      const answer = await fetch(`${location.pathname}?anew=true${more}`, { signal: asking.signal, cache: "no-store" });
      const text = await answer.text();
      // A touch that began meanwhile is not disturbed: the page is asked for again after it.
      if (busy()) return;
      if (answer.status === 404) location.reload();
      if (!answer.ok) return;
      take(new DOMParser().parseFromString(text, "text/html"));
      if (behind === since) behind = null;
    } catch {
      // It is asked for again, and called old until it comes.
    } finally {
      clearTimeout(giveUp);
      asking = null;
    }
    tick();
  };

  const hear = (event) => {
    const beat = JSON.parse(event.data);
    heard = performance.now();
    server = { now: beat.now, at: heard };
    silent = beat.silent === null ? null : heard - beat.silent;
    const newer = beat.number > number || (last && (beat.number !== last.number || beat.turn !== last.turn));
    if (beat.edition !== body.dataset.edition || newer) {
      // An older page's styles and script go with it.
      if (beat.edition !== body.dataset.edition && !busy()) location.reload();
      number = Math.max(number, beat.number);
      behind = behind ?? heard;
    }
    last = beat;
    tick();
  };

  const open = () => {
    reopen = performance.now() + GIVE_UP;
    if (source) source.close();
    source = new EventSource(`/bay/${encodeURIComponent(body.dataset.bay)}/events`);
    source.addEventListener("beat", hear);
    // An answer that is no stream ends it for good; the browser tries again by itself otherwise.
    source.addEventListener("error", () => {
      if (source.readyState === EventSource.CLOSED) setTimeout(open, AGAIN);
    });
  };

  const hold = (names, ms) => {
    for (const name of names) document.addEventListener(name, () => { touched = performance.now() + ms; });
  };
  hold(["pointerdown", "keydown"], HELD);
  hold(["pointerup", "pointercancel", "keyup"], LIFTED);
  document.addEventListener("submit", () => { if (asking) asking.abort(); });

  open();
  tick();
  setInterval(tick, 1000);
})();
