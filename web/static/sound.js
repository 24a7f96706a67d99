/* What is to be heard: the watch says what and when, in an event "sound" of the stream; the tones are made
   here. A browser lets no page sound before it was touched once. */
(function () {
  "use strict";
  var bar = document.getElementById("sound");
  var calls = document.getElementById("calls");
  var said = bar.querySelector(".now");
  var unarmed = bar.querySelector(".unarmed");
  var hush = bar.querySelector(".hush");
  var SOUNDED = "sounded";
  var REPEAT_MS = 1600;
  var DEAF_MS = 30000;
  var state = { pattern: "", serial: 0, alert: "" };
  var context = null;
  var repeating = 0;
  var deaf = false;
  var waiting = 0;
  var lock = null;

  /* One note: rises and falls softly, so that no loudspeaker clicks. */
  function note(hertz, from_s, lasts_s, level) {
    var start = context.currentTime + from_s;
    var tone = context.createOscillator();
    var gain = context.createGain();
    tone.type = "triangle";
    tone.frequency.value = hertz;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(level, start + 0.03);
    gain.gain.setValueAtTime(level, start + lasts_s - 0.08);
    gain.gain.linearRampToValueAtTime(0, start + lasts_s);
    tone.connect(gain);
    gain.connect(context.destination);
    tone.start(start);
    tone.stop(start + lasts_s + 0.02);
  }

  /* An alarm: a falling fifth, twice, and again until the watch says otherwise. */
  function alarm() {
    [0, 0.62].forEach(function (at) { note(1046.5, at, 0.24, 0.35); note(698.5, at + 0.26, 0.3, 0.35); });
  }

  /* A warning: one soft tone. */
  function warning() { note(523.3, 0, 0.9, 0.18); }

  function armed() { return context !== null && context.state === "running"; }

  function arm() {
    if (!window.AudioContext) { return; }
    context = context || new window.AudioContext();
    context.onstatechange = follow;
    context.resume().then(follow, follow);
    stayAwake();
  }

  function follow() {
    var due = armed() && state.pattern === "alarm";
    if (!due) {
      window.clearInterval(repeating);
      repeating = 0;
    } else if (!repeating) {
      alarm();
      repeating = window.setInterval(alarm, REPEAT_MS);
    }
    if (armed() && state.pattern === "warning" && sessionStorage.getItem(SOUNDED) !== mark()) { warning(); }
    if (armed()) { sessionStorage.setItem(SOUNDED, mark()); }
    show();
  }

  function mark() { return state.alert + " " + state.serial; }

  function show() {
    said.textContent = deaf ? bar.dataset.deaf : state.told || "";
    said.hidden = said.textContent === "";
    unarmed.hidden = armed();
    if (hush) { hush.hidden = state.pattern !== "alarm"; }
    bar.classList.toggle("alarm", state.pattern === "alarm");
    bar.hidden = said.hidden && unarmed.hidden;
    document.documentElement.classList.toggle("has-bar", !bar.hidden);
  }

  function heard(e) {
    var before = mark() + state.pattern;
    alive();
    state = JSON.parse(e.data);
    calls.textContent = state.open;
    calls.classList.toggle("any", state.any);
    if (mark() + state.pattern !== before) { follow(); } else { show(); }
  }

  /* A tone must not go on of which nobody knows whether it is still due, and silence must not look like calm. */
  function alive() {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(function () {
      deaf = true;
      state.pattern = "";
      follow();
    }, DEAF_MS);
    if (deaf) { deaf = false; show(); }
  }

  function stayAwake() {
    if (lock || document.visibilityState !== "visible" || !("wakeLock" in navigator)) { return; }
    navigator.wakeLock.request("screen").then(function (held) {
      lock = held;
      held.addEventListener("release", function () { lock = null; });
    }, function () { lock = null; });
  }

  document.body.addEventListener("htmx:sseOpen", function (e) {
    alive();
    e.detail.source.addEventListener("sound", heard);
    e.detail.source.addEventListener("snapshot", alive);
  });
  ["pointerup", "keydown"].forEach(function (touch) {
    document.addEventListener(touch, function () { if (!armed()) { arm(); } else { stayAwake(); } });
  });
  document.addEventListener("visibilitychange", function () { if (armed()) { stayAwake(); } });

  /* Where a page of ours was touched before this one, most browsers let the next one sound at once. */
  if (navigator.userActivation && navigator.userActivation.hasBeenActive) { arm(); }

  /* What only a connection that the browser trusts can do. */
  if (!window.isSecureContext) { document.documentElement.classList.add("plain"); }
  if ("serviceWorker" in navigator) { navigator.serviceWorker.register("/worker.js").catch(function () { /* It is only not kept. */ }); }
  show();
}());
