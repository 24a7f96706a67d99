/* The plot that zooms: drag to look closer, and the record is asked again for that span. */
(function () {
  "use strict";
  var box = document.getElementById("zoom");
  if (!box) { return; }
  var language = document.documentElement.lang;
  var say = box.dataset;
  var urls = say.urls.split(" ").map(function (u) { return new URL(u, location.href); });
  var names = say.names.split("|");
  var style = getComputedStyle(document.documentElement);
  var still = document.getElementById("still");
  var rough = document.getElementById("rough");
  var reading = document.getElementById("reading");
  var plot = null;
  var asked = 0;
  var figures = new Intl.NumberFormat(language, { maximumSignificantDigits: 4 });

  function colour(name) { return style.getPropertyValue(name).trim(); }

  /* By the ship's clock: hours within two days, dates beyond, months and years on more than half a year. */
  function moments(u, splits) {
    var s = u.scales.x.max - u.scales.x.min;
    var form = s < 172800 ? { hour: "2-digit", minute: "2-digit" }
      : s < 15552000 ? { weekday: "short", day: "numeric", month: "short" } : { month: "short", year: "numeric" };
    form.timeZone = say.zone;
    var told = new Intl.DateTimeFormat(language === "en" ? "en-GB" : language, form);
    return splits.map(function (at) { return told.format(new Date(at * 1e3)); });
  }

  function shown(v) { return v === null || v === undefined ? v : v * +say.per + +say.offset; }

  function draw(tables) {
    var first = tables[0];
    var many = tables.length > 1;
    var ink = many ? { dash: [5, 4] } : {};
    var axis = { stroke: colour("--pencil"), grid: { stroke: colour("--rule"), width: 1 }, ticks: { stroke: colour("--rule") }, font: "13px serif" };
    var value = function (u, v) { return v === null || v === undefined ? "—" : figures.format(v) + " " + say.unit; };
    function line(label, stroke, more) {
      return Object.assign({ label: label, stroke: colour(stroke), value: value, points: { show: false } }, more);
    }
    var series = [
      { label: say.time, value: "{YYYY}-{MM}-{DD} {HH}:{mm}" },
      line(say.low, "--rule"), line(say.high, "--rule"), line(many ? names[0] : say.mean, "--ink", { width: 1.6 })
    ];
    var data = [first.utc_s, first.low.map(shown), first.high.map(shown), first.mean.map(shown)];
    if (many) {
      series.push(line(names[1], "--water", Object.assign({ width: 1.6 }, ink)));
      data = uPlot.join([data, [tables[1].utc_s, tables[1].mean.map(shown)]]);
    }
    plot = new uPlot({
      width: box.parentNode.clientWidth,
      height: 320,
      series: series,
      bands: [{ series: [2, 1], fill: colour("--rule") }],
      axes: [Object.assign({ values: moments, space: 70 }, axis), Object.assign({ values: function (u, ticks) { return ticks.map(function (v) { return figures.format(v); }); } }, axis)],
      tzDate: function (s) { return uPlot.tzDate(new Date(s * 1e3), say.zone); },
      cursor: { drag: { x: true, y: false } },
      hooks: { setSelect: [function (u) {
        if (u.select.width > 4) { ask(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")); }
      }] }
    }, data, box);
    plot.over.addEventListener("dblclick", whole);
  }

  function tell(text) {
    reading.textContent = text;
    reading.hidden = !text;
  }

  /* Only the newest answer is drawn; until it is there, what was drawn before stays. */
  function ask(from, to) {
    var mine = asked += 1;
    var late = window.setTimeout(function () { if (mine === asked) { tell(say.reading); } }, 700);
    Promise.all(urls.map(function (of) {
      var url = new URL(of);
      url.searchParams.set("from", from);
      url.searchParams.set("to", to);
      return fetch(url).then(function (r) { if (!r.ok) { throw new Error(r.status); } return r.json(); });
    })).then(function (tables) {
      if (mine !== asked) { return; }
      if (plot) { plot.destroy(); }
      draw(tables);
      tell("");
      if (still) { still.hidden = true; }
      if (rough) { rough.hidden = true; }
    }).catch(function () {
      if (mine === asked) { tell(say.failed); }
    }).finally(function () { window.clearTimeout(late); });
  }

  function whole() { ask(+urls[0].searchParams.get("from"), +urls[0].searchParams.get("to")); }

  whole();
}());
