/* Wet glass presses by itself: a button of class "hold" wants a second's pressure, or a second press. A form
   "quiet" is sent without leaving the page, and what it did can be taken back for a while. */
(function () {
  "use strict";
  var HOLD_MS = 800;
  var AGAIN_MS = 4000;
  var UNDO_MS = 12000;
  var KEPT = "undo";
  var done = document.getElementById("done");
  var said = done.firstElementChild;
  var undo = done.querySelector("button");
  var pressed = null;
  var timer = 0;
  var asked = null;
  var askedAt = 0;
  var hiding = 0;

  function tell(text, lasts_ms, wish) {
    window.clearTimeout(hiding);
    said.textContent = text;
    undo.hidden = !wish;
    undo.wish = wish || null;
    done.hidden = false;
    hiding = window.setTimeout(function () { done.hidden = true; sessionStorage.removeItem(KEPT); }, lasts_ms);
  }

  function release() {
    window.clearTimeout(timer);
    if (pressed) { pressed.classList.remove("pressed"); }
    pressed = null;
  }

  function press(button) {
    if (pressed) { return; }
    pressed = button;
    button.classList.add("pressed");
    timer = window.setTimeout(function () {
      release();
      send(button);
    }, HOLD_MS);
  }

  function send(button) {
    asked = null;
    button.dataset.meant = "yes";
    button.form.requestSubmit(button);
  }

  function held(e) {
    var button = e.target.closest && e.target.closest("button.hold");
    return button && !button.disabled ? button : null;
  }

  document.addEventListener("pointerdown", function (e) { if (e.button === 0 && held(e)) { press(held(e)); } });
  ["pointerup", "pointercancel", "pointerleave", "blur"].forEach(function (end) { document.addEventListener(end, release, true); });
  document.addEventListener("keydown", function (e) {
    if (!/^(Enter| )$/.test(e.key) || !held(e)) { return; }
    if (e.repeat) { e.preventDefault(); return; }
    press(held(e));
  });
  document.addEventListener("keyup", release);
  document.addEventListener("contextmenu", function (e) { if (held(e)) { e.preventDefault(); } });

  /* A short press, or one that a screen reader makes: the next one within four seconds is meant. */
  document.addEventListener("click", function (e) {
    var button = held(e);
    if (!button || button.dataset.meant) { return; }
    e.preventDefault();
    if (asked === button && Date.now() - askedAt < AGAIN_MS) { send(button); return; }
    asked = button;
    askedAt = Date.now();
    tell(done.dataset.hold, AGAIN_MS);
  });

  /* What is refused, or meets no watch, is sent as any form is: the answer says why. */
  document.addEventListener("submit", function (e) {
    var form = e.target;
    var by = e.submitter;
    if (by) { delete by.dataset.meant; }
    if (!form.classList.contains("quiet") || form.dataset.loud) { return; }
    e.preventDefault();
    var what = new URLSearchParams(new FormData(form));
    if (by && by.name) { what.append(by.name, by.value); }
    function loud() { form.dataset.loud = "yes"; if (by) { by.dataset.meant = "yes"; } form.requestSubmit(by); }
    post(form.action, what).then(function (well) {
      if (!well) { loud(); return; }
      var wish = form.dataset.undo ? JSON.parse(form.dataset.undo) : null;
      if (wish && what.has("csrf")) { wish.csrf = what.get("csrf"); }
      if (form.dataset.undo !== undefined || form.dataset.done) { offer(wish, form.dataset.done || done.dataset.done); }
      fresh();
    }, loud);
  });

  function post(action, what) {
    return fetch(action, { method: "POST", body: what, redirect: "manual", credentials: "same-origin" })
      .then(function (answer) { return answer.type === "opaqueredirect"; });
  }

  function offer(wish, text) {
    sessionStorage.setItem(KEPT, JSON.stringify({ wish: wish, text: text, until: Date.now() + UNDO_MS }));
    tell(text, UNDO_MS, wish);
  }

  /* The next snapshot shows what became of it; a page that is not live is loaded anew. */
  function fresh() { if (!document.querySelector("#live[hx-get]")) { window.location.reload(); } }

  undo.addEventListener("click", function () {
    var wish = undo.wish;
    var what = new URLSearchParams();
    Object.keys(wish).forEach(function (name) { if (name !== "action") { what.append(name, wish[name]); } });
    post(wish.action, what).then(function (well) {
      sessionStorage.removeItem(KEPT);
      tell(well ? done.dataset.undone : done.dataset.refused, AGAIN_MS);
      if (well) { fresh(); }
    }, function () { tell(done.dataset.refused, AGAIN_MS); });
  });

  var kept = JSON.parse(sessionStorage.getItem(KEPT) || "null");
  if (kept && kept.until > Date.now()) { tell(kept.text, kept.until - Date.now(), kept.wish); }
}());
