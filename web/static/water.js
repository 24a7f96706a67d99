/* The strip of the pump: drag it, pinch it, use the keys. Everything here is also a link: without this
   script the links do. What was typed into a form outlives the redrawing of the page. */
(function () {
  "use strict";
  var main = document.getElementById("live");
  var typed = {};
  var drag = null;
  var fingers = {};

  function go(href, focus) {
    fetch(href.split("#")[0], { headers: { "HX-Request": "true" }, credentials: "same-origin" })
      .then(function (answer) {
        if (answer.status !== 200) { throw new Error(String(answer.status)); }
        return answer.text();
      })
      .then(function (html) {
        var part = new DOMParser().parseFromString(html, "text/html");
        main.replaceChildren.apply(main, Array.from(part.body.childNodes));
        window.htmx.process(main);
        main.dispatchEvent(new CustomEvent("redrawn", { bubbles: true }));
        history.replaceState(null, "", href.split("#")[0]);
        restore();
        var at = focus && document.getElementById(focus);
        if (at) { at.focus({ preventScroll: true }); }
      })
      .catch(function () { window.location.assign(href); });
  }

  function strip(target) { return target.closest ? target.closest(".barcode") : null; }

  function shown(figure) { return { from: Number(figure.dataset.from), to: Number(figure.dataset.to) }; }

  function show(figure, from, to) {
    var longest = 8 * 86400;
    var middle = (from + to) / 2;
    var half = Math.max(15, Math.min(longest / 2, (to - from) / 2));
    go("/water?from=" + Math.round(middle - half) + "&to=" + Math.round(middle + half), figure.id);
  }

  function look(figure, name) {
    var link = figure.querySelector('[data-look="' + name + '"]');
    if (link) { go(link.getAttribute("href"), figure.id); }
    return Boolean(link);
  }

  document.addEventListener("click", function (e) {
    var figure = strip(e.target);
    var link = figure && e.target.closest("a");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button) { return; }
    e.preventDefault();
    if (drag && drag.moved) { return; }
    go(link.getAttribute("href"), link.id || figure.id);
  });

  document.addEventListener("keydown", function (e) {
    var figure = strip(e.target);
    var keys = { ArrowLeft: "earlier", ArrowRight: "later", "+": "closer", "=": "closer", "-": "wider", Home: "day" };
    if (!figure || e.ctrlKey || e.metaKey || e.altKey || !keys[e.key]) { return; }
    if (look(figure, keys[e.key])) { e.preventDefault(); }
  });

  function spread() {
    var xs = Object.keys(fingers).map(function (id) { return fingers[id]; });
    return xs.length === 2 ? { apart: Math.abs(xs[0] - xs[1]), middle: (xs[0] + xs[1]) / 2 } : null;
  }

  document.addEventListener("pointerdown", function (e) {
    var figure = strip(e.target);
    if (!figure || !e.target.closest(".strip")) { return; }
    fingers[e.pointerId] = e.clientX;
    drag = { figure: figure, x: e.clientX, dx: 0, moved: false, pinch: spread() };
  });

  document.addEventListener("pointermove", function (e) {
    if (!drag || !(e.pointerId in fingers)) { return; }
    fingers[e.pointerId] = e.clientX;
    if (drag.pinch) { drag.moved = true; return; }
    drag.dx = e.clientX - drag.x;
    drag.moved = drag.moved || Math.abs(drag.dx) > 8;
    if (drag.moved) { drag.figure.querySelector(".moves").setAttribute("transform", "translate(" + drag.dx + " 0)"); }
  });

  function ended(e) {
    if (!drag || !(e.pointerId in fingers)) { return; }
    var now = spread();
    delete fingers[e.pointerId];
    var at = shown(drag.figure);
    var box = drag.figure.querySelector(".strip").getBoundingClientRect();
    var whole = at.to - at.from;
    if (e.type === "pointercancel") {
      drag.figure.querySelector(".moves").removeAttribute("transform");
    } else if (drag.pinch && now) {
      var ratio = drag.pinch.apart / Math.max(20, now.apart);
      var held = at.from + whole * (drag.pinch.middle - box.left) / box.width;
      var from = held - ratio * whole * (now.middle - box.left) / box.width;
      show(drag.figure, from, from + ratio * whole);
      fingers = {};
    } else if (drag.moved && !drag.pinch) {
      var shift = -drag.dx / box.width * whole;
      show(drag.figure, at.from + shift, at.to + shift);
    }
    var done = drag;
    window.setTimeout(function () { if (drag === done) { drag = null; } }, 0);
  }
  document.addEventListener("pointerup", ended);
  document.addEventListener("pointercancel", ended);
  document.addEventListener("dragstart", function (e) { if (strip(e.target)) { e.preventDefault(); } });

  /* The live page asks for the stretch that is now shown, not for the one it was opened with. */
  document.body.addEventListener("htmx:configRequest", function (e) {
    if (e.target === main) { e.detail.path = window.location.pathname + window.location.search; }
  });

  function key(field) { return field.form ? field.form.getAttribute("action") + " " + field.name : ""; }

  function restore() {
    Object.keys(typed).forEach(function (name) {
      main.querySelectorAll("input, select").forEach(function (field) {
        if (key(field) === name) { field.value = typed[name]; }
      });
    });
  }
  document.addEventListener("input", function (e) { if (key(e.target)) { typed[key(e.target)] = e.target.value; } });
  document.body.addEventListener("htmx:afterSwap", restore);

  restore();
}());
