// Keeps the shop screen true: takes what changed, moves lengths of time on, and says when nothing is heard.
"use strict";
(() => {
  const body = document.body;
  const words = JSON.parse(body.dataset.words);
  const byId = (id) => document.getElementById(id);
  const panels = ["head", "free", "outside", "bring"];
  // The screen's program says something at least every four seconds.
  const SILENCE = 12000;
  // A stream that says nothing for so long is opened anew.
  const GIVE_UP = 20000;
  const AGAIN = 2000;

  let source = null;
  let id = body.dataset.id;
  // The server's moment, moved on by this machine's count of milliseconds, whatever its clock says.
  let server = { now: Number(body.dataset.now), at: performance.now() };
  let heard = performance.now();
  let silent = body.dataset.silent === "" ? null : { since: heard - Number(body.dataset.silent) };
  let shown = id.split(".")[2] !== "0";
  let reopen = 0;

  const clockIn = (timeZone) => new Intl.DateTimeFormat(words.lang, { hour: "2-digit", minute: "2-digit", hour12: false, timeZone });
  let zone = body.dataset.zone;
  let clock = clockIn(zone);
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

  const tick = () => {
    const at = now();
    for (const time of document.querySelectorAll("time[data-since]")) put(time, length(at - Number(time.dataset.since)));
    const unheard = performance.now() - heard;
    const say = (key, ms) => words[key].replace("{s}", String(Math.floor(ms / 1000)));
    let text;
    if (unheard >= SILENCE) text = say("no-word-from-screen", unheard);
    else if (silent && shown) text = say("no-word-from-server", performance.now() - silent.since);
    else if (silent) text = say("waiting-for-server", performance.now() - silent.since);
    else text = `${words.live} · ${clock.format(at)}`;
    body.classList.toggle("stale", unheard >= SILENCE || (silent !== null && shown));
    put(byId("live"), text);
    if (unheard >= GIVE_UP && performance.now() > reopen) open();
  };

  const make = (html) => {
    const template = document.createElement("template");
    template.innerHTML = html;
    return template.content.firstElementChild;
  };

  const takeBays = (word) => {
    const bays = byId("bays");
    const known = new Map();
    for (const tile of [...bays.children]) known.set(tile.dataset.part, tile);
    word.order.forEach((name, at) => {
      const old = known.get(name);
      const html = word.parts[name];
      const tile = html === undefined ? old : make(html);
      if (tile === undefined) return;
      if (old && old !== tile) old.replaceWith(tile);
      if (bays.children[at] !== tile) bays.insertBefore(tile, bays.children[at] || null);
    });
    while (bays.children.length > word.order.length) bays.lastElementChild.remove();
    if (bays.className !== word.layout) bays.className = word.layout;
  };

  const take = (event) => {
    const word = JSON.parse(event.data);
    if (word.edition !== body.dataset.edition) {
      location.reload();
      return;
    }
    heard = performance.now();
    id = event.lastEventId;
    server = { now: word.now, at: heard };
    if (word.zone !== zone) {
      zone = word.zone;
      clock = clockIn(zone);
    }
    silent = word.silent === null ? null : { since: heard - word.silent };
    // A screen that was started anew and has not heard the server yet has nothing better than what is shown.
    if (id.split(".")[2] !== "0") {
      shown = true;
      takeBays(word);
      for (const name of panels) if (word.parts[name] !== undefined) byId(name).replaceChildren(make(word.parts[name]));
      const title = document.querySelector("h1");
      if (title && title.textContent) document.title = title.textContent;
    }
    tick();
  };

  const open = () => {
    reopen = performance.now() + GIVE_UP;
    if (source) source.close();
    source = new EventSource(`/events?after=${encodeURIComponent(id)}`);
    source.addEventListener("wall", take);
    // An answer that is no stream ends it for good; the browser tries again by itself otherwise.
    source.addEventListener("error", () => {
      if (source.readyState === EventSource.CLOSED) setTimeout(open, AGAIN);
    });
  };

  open();
  tick();
  setInterval(tick, 1000);
})();
