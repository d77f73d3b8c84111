// Improves pages that work without it: a number pad, an undo that goes by itself, and one touch that counts once.
"use strict";
(() => {
  const UNDO_FOR = 20000;
  // A page that changed under a finger takes no touch for this long.
  const SETTLE = 500;
  // What was sent may be sent again after this long: it carries the same request, which takes effect once.
  const SENT_FOR = 20000;
  // A touch that is not answered for so long says that it waits.
  const UNANSWERED = 2500;

  if (document.querySelector("[data-undo]")) {
    setTimeout(() => {
      history.replaceState(null, "", location.pathname);
      for (const undo of document.querySelectorAll("[data-undo]")) undo.remove();
    }, UNDO_FOR);
  }

  // The form that was refused: found by what it does and what that is about. Where what is left to do changed meanwhile,
  // it is the one that does the same at the same stage.
  const refused = (typed) => {
    const all = (name) => typed.filter(([known]) => known === name).map(([, value]) => value);
    const said = (form, names) => [...form.querySelectorAll("input[type=hidden]")]
      .filter((one) => names ? names.includes(one.name) : !["proof", "request", "from"].includes(one.name))
      .every((one) => all(one.name).includes(one.value));
    const forms = [...document.querySelectorAll("main form[method=post]")];
    const whole = forms.filter((form) => said(form));
    const touched = (form) => [...form.querySelectorAll("button[name]")].some((one) => all(one.name).includes(one.value));
    return whole.find(touched) || whole[0] || forms.find((form) => form.act && said(form, ["act", "job", "stage"]));
  };

  // What was answered to it stands where the hand is, not at the top of a long page.
  const answer = (typed, first) => {
    const form = refused(typed);
    const notes = [...document.querySelectorAll(".said > .note, .said > .note-way")];
    if (!form || notes.length === 0) return;
    const box = document.createElement("div");
    box.className = "answered";
    box.tabIndex = -1;
    box.setAttribute("role", "alert");
    // Told to whoever listens: an alert speaks of what comes into it.
    const place = form.closest("ul.parts") || form.closest(".row") || form;
    place.after(box);
    for (const note of notes) {
      note.removeAttribute("role");
      box.append(note);
    }
    // Without a note it is no region any more.
    const region = document.querySelector(".said");
    if (!region.querySelector(".note")) for (const name of ["tabindex", "role", "aria-label"]) region.removeAttribute(name);
    for (let up = form.parentElement; up; up = up.parentElement) if (up.tagName === "DETAILS") up.open = true;
    if (!first) return;
    box.scrollIntoView({ block: "center" });
    box.focus({ preventScroll: true });
  };

  // What was typed into it stands in it again.
  const main = document.querySelector("main[data-typed]");
  if (main) {
    const typed = JSON.parse(main.dataset.typed);
    const all = (name) => typed.filter(([known]) => known === name).map(([, value]) => value);
    const form = refused(typed);
    for (const one of form ? form.querySelectorAll("input:not([type=hidden])") : []) {
      const values = all(one.name);
      if (one.type === "radio" || one.type === "checkbox") one.checked = values.includes(one.value);
      else if (values.length > 0 && one.type !== "password" && one.name !== "figure") one.value = values[0];
    }
    if (form) for (let box = form; box; box = box.parentElement) if (box.tagName === "DETAILS") box.open = true;
    if (form) for (const box of form.querySelectorAll("details")) {
      if ([...box.querySelectorAll("input:not([type=hidden], [type=radio], [type=checkbox])")].some((one) => one.value)) box.open = true;
    }
    answer(typed, true);
    // The page was put in place of the one that was answered: the answer stays until the person goes on.
    document.addEventListener("renewed", () => answer(typed, false));
  }

  // After a touch on a bay's page, or on one below it, the page stands where it stood, so that a hand goes on where it was.
  // With another stage under way, or something else that holds up, it begins at the top, where that is told first.
  const kept = (act) => {
    // A browser may keep nothing for a page; then every page begins at its top.
    try { return act(sessionStorage); } catch { return null; }
  };
  const place = `place ${location.pathname}`;
  const under = () => [...document.querySelectorAll("[data-stage], [data-held]")].map((one) => one.dataset.stage || one.dataset.held).join(" ");
  document.addEventListener("submit", () => kept((store) => store.setItem("sent", location.pathname)));
  window.addEventListener("pagehide", () => kept((store) => store.setItem(place, JSON.stringify([scrollY, under()]))));
  const sent = kept((store) => store.getItem("sent"));
  kept((store) => store.removeItem("sent"));
  const [stood, then] = JSON.parse(kept((store) => store.getItem(place)) || "[0, null]");
  const stays = sent !== null && `${sent}/`.startsWith(`${location.pathname}/`) && then === under();
  if (stays && !main && !document.body.classList.contains("desk")) window.scrollTo(0, stood);
  // Over what is touched it is no higher than a few lines.
  const height = () => document.body.classList.toggle("scrolled", scrollY > 100);
  document.addEventListener("scroll", height, { passive: true });
  height();
  // What was answered keeps in sight for a while, and then goes with the page.
  const answers = document.querySelector(".said");
  if (answers) setTimeout(() => answers.classList.add("old"), UNDO_FOR);

  // Weeks that are wider than the page begin with the latest, at their right; other pictures with their names, at the left.
  for (const picture of document.querySelectorAll(".picture[data-latest]")) picture.scrollLeft = picture.scrollWidth;

  // A pad writes into the field that was touched last of its form.
  for (const pad of document.querySelectorAll("[data-pad]")) {
    let field = document.getElementById(pad.dataset.pad);
    const own = [...pad.parentElement.querySelectorAll("input[inputmode]")];
    for (const one of own) one.addEventListener("focus", () => { field = one; });
    const key = (text, press) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      button.addEventListener("click", press);
      pad.append(button);
    };
    for (const digit of "123456789") key(digit, () => { field.value += digit; });
    if ("decimal" in pad.dataset) key(".", () => { if (!field.value.includes(".")) field.value += "."; });
    else key("⌫", () => { field.value = field.value.slice(0, -1); });
    key("0", () => { field.value += "0"; });
    if ("decimal" in pad.dataset) {
      key("⌫", () => { field.value = field.value.slice(0, -1); });
      const next = () => { own[(own.indexOf(field) + 1) % own.length].focus(); };
      if (own.length > 1) for (const text of ["−", "↵"]) key(text, text === "−" ? () => { field.value = field.value.startsWith("-") ? field.value.slice(1) : "-" + field.value; } : next);
    }
    // What a figure is of, behind it: typed once, changed by another touch.
    for (const unit of (pad.dataset.units || "").split(" ").filter((one) => one)) key(unit, () => { field.value = `${field.value.replace(/[^0-9.,-]+$/, "")} ${unit}`; });
    pad.hidden = false;
  }

  document.addEventListener("submit", (event) => {
    const changed = Number(document.body.dataset.changed || -SETTLE);
    if (event.target.dataset.sent || performance.now() - changed < SETTLE) {
      event.preventDefault();
      return;
    }
    const sent = [event.target, document.body];
    for (const one of sent) one.dataset.sent = "yes";
    // A touch that is not answered soon says so, as long as the page that follows has not come.
    const waits = setTimeout(() => {
      const note = document.createElement("p");
      note.className = "note";
      note.setAttribute("role", "alert");
      note.dataset.waits = "yes";
      note.textContent = document.body.dataset.waits;
      (document.querySelector(".said") || document.querySelector("main")).prepend(note);
    }, UNANSWERED);
    setTimeout(() => {
      clearTimeout(waits);
      for (const one of sent) delete one.dataset.sent;
      for (const note of document.querySelectorAll("[data-waits]")) if (note !== document.body) note.remove();
    }, SENT_FOR);
  });
  // A page that comes back from the browser's memory shows what was true then.
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
})();
