/* The plot that zooms: drag to look closer, and the record is asked again for that span. */
(function () {
  "use strict";
  var box = document.getElementById("zoom");
  if (!box) { return; }
  var first = new URL(box.dataset.url, location.href);
  var style = getComputedStyle(document.documentElement);
  var plot = null;

  function colour(name) { return style.getPropertyValue(name).trim(); }

  /* By the ship's clock: hours within two days, dates beyond. */
  function moments(u, splits) {
    var form = u.scales.x.max - u.scales.x.min < 172800 ? { hour: "2-digit", minute: "2-digit" } : { weekday: "short", day: "numeric", month: "short" };
    form.timeZone = box.dataset.zone;
    var told = new Intl.DateTimeFormat("en-GB", form);
    return splits.map(function (s) { return told.format(new Date(s * 1e3)); });
  }

  function draw(d) {
    var axis = { stroke: colour("--pencil"), grid: { stroke: colour("--rule"), width: 1 }, ticks: { stroke: colour("--rule") }, font: "13px serif" };
    var value = function (u, v) { return v === null || v === undefined ? "—" : +v.toPrecision(4) + " " + d.unit; };
    plot = new uPlot({
      width: box.parentNode.clientWidth,
      height: 320,
      series: [
        { label: "ship's time", value: "{YYYY}-{MM}-{DD} {HH}:{mm}" },
        { label: "low", stroke: colour("--rule"), value: value, points: { show: false } },
        { label: "high", stroke: colour("--rule"), value: value, points: { show: false } },
        { label: "mean", stroke: colour("--ink"), width: 1.6, value: value, points: { show: false } }
      ],
      bands: [{ series: [2, 1], fill: colour("--rule") }],
      axes: [Object.assign({ values: moments }, axis), axis],
      tzDate: function (s) { return uPlot.tzDate(new Date(s * 1e3), box.dataset.zone); },
      cursor: { drag: { x: true, y: false } },
      hooks: { setSelect: [function (u) {
        if (u.select.width > 4) { ask(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")); }
      }] }
    }, [d.utc_s, d.low, d.high, d.mean], box);
    plot.over.addEventListener("dblclick", function () { ask(+first.searchParams.get("from"), +first.searchParams.get("to")); });
  }

  function ask(from, to) {
    var url = new URL(first);
    url.searchParams.set("from", from);
    url.searchParams.set("to", to);
    fetch(url).then(function (r) { if (!r.ok) { throw new Error(r.status); } return r.json(); }).then(function (d) {
      if (plot) { plot.destroy(); }
      draw(d);
      document.getElementById("still").hidden = true;
    }).catch(function () { /* The still drawing stays. */ });
  }

  ask(+first.searchParams.get("from"), +first.searchParams.get("to"));
}());
