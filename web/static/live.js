/* How old is what you see: counted from the last word of the watch, not from the last redraw. */
(function () {
  "use strict";
  var seen = document.getElementById("seen");
  var words = seen.firstElementChild;
  var asOf = seen.dataset.asOf;
  var heardAt = Date.now();
  var heldUntil = 0;
  var owed = false;
  var askedAt = Date.now();
  var REST_MS = 3000;

  function aged(s) {
    if (s < 120) { return s + "\u00a0s"; }
    if (s < 7200) { return Math.round(s / 60) + "\u00a0min"; }
    return s < 172800 ? Math.round(s / 3600) + "\u00a0h" : Math.round(s / 86400) + "\u00a0" + seen.dataset.day;
  }

  function tell() {
    var s = Math.round((Date.now() - heardAt) / 1000);
    var old = s >= 15;
    var text = old ? seen.dataset.old : s < 5 ? seen.dataset.now : seen.dataset.young;
    words.textContent = text.replace("{moment}", asOf).replace("{age}", aged(s));
    seen.classList.toggle("old", old);
    document.documentElement.classList.toggle("stale", old);
  }

  function heard(moment) {
    heardAt = Date.now();
    if (moment) { asOf = moment; }
    tell();
  }

  /* A finger on a button, a choice half made: what is under it must not be replaced. It is as soon as that is
     over. */
  function busy() {
    var at = document.activeElement;
    return Date.now() < heldUntil || (at && /^(SELECT|INPUT|TEXTAREA)$/.test(at.tagName) && at.closest("#live"));
  }

  document.documentElement.classList.add("live");
  document.body.addEventListener("htmx:sseOpen", function (e) {
    e.detail.source.addEventListener("snapshot", function (m) { heard(m.data); owed = true; settle(); });
  });
  document.body.addEventListener("htmx:beforeRequest", function (e) { if (busy()) { e.preventDefault(); owed = true; } });
  document.body.addEventListener("htmx:beforeSwap", function (e) { if (busy()) { e.detail.shouldSwap = false; owed = true; } });
  document.addEventListener("pointerdown", function () { heldUntil = Date.now() + 4000; });
  document.addEventListener("pointerup", function () { heldUntil = Date.now() + 700; });
  /* Every three seconds at most: what is heard meanwhile is owed, and comes then. */
  function settle() {
    if (!owed || busy() || Date.now() - askedAt < REST_MS) { return; }
    owed = false;
    askedAt = Date.now();
    window.htmx.trigger("#live", "owed");
  }

  window.setInterval(function () { tell(); settle(); }, 1000);
}());
