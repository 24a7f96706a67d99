/* How old is what you see: counted from the last word of the watch, not from the last redraw. */
(function () {
  "use strict";
  var seen = document.getElementById("seen");
  var words = seen.firstElementChild;
  var asOf = seen.dataset.asOf;
  var heardAt = Date.now();
  var heldUntil = 0;
  var owed = false;

  function tell() {
    var s = Math.round((Date.now() - heardAt) / 1000);
    var old = s >= 15;
    var age = s < 5 ? "" : s < 120 ? ", " + s + " s ago" : ", " + Math.round(s / 60) + " min ago";
    words.textContent = (old ? "Nothing newer than " : "As of ") + asOf + age;
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
  document.body.addEventListener("htmx:sseMessage", function (e) { heard(e.detail.data); });
  document.body.addEventListener("htmx:beforeRequest", function (e) { if (busy()) { e.preventDefault(); owed = true; } });
  document.body.addEventListener("htmx:beforeSwap", function (e) { if (busy()) { e.detail.shouldSwap = false; owed = true; } });
  document.addEventListener("pointerdown", function () { heldUntil = Date.now() + 4000; });
  document.addEventListener("pointerup", function () { heldUntil = Date.now() + 700; });

  /* What an alert is answered with needs no new page: the sound goes on being heard, and the next snapshot
     shows what became of it. What is refused, or meets no watch, is sent as any form is. */
  document.addEventListener("submit", function (e) {
    var form = e.target;
    if (!form.classList.contains("quiet") || form.dataset.loud) { return; }
    e.preventDefault();
    var said = new URLSearchParams(new FormData(form));
    if (e.submitter && e.submitter.name) { said.append(e.submitter.name, e.submitter.value); }
    function loud() { form.dataset.loud = "yes"; form.requestSubmit(e.submitter); }
    fetch(form.action, { method: "POST", body: said, redirect: "manual", credentials: "same-origin" })
      .then(function (answer) {
        if (answer.type !== "opaqueredirect") { loud(); return; }
        if (!document.querySelector("#live[hx-get]")) { window.location.reload(); }
      }, loud);
  });
  window.setInterval(function () {
    tell();
    if (owed && !busy()) {
      owed = false;
      window.htmx.trigger("#live", "owed");
    }
  }, 1000);
}());
