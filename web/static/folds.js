/* What was folded open or shut outlives the redrawing of the page, and the answer to a form. */
(function () {
  "use strict";
  var KEPT = "folds of " + window.location.pathname;
  var folds = JSON.parse(sessionStorage.getItem(KEPT) || "{}");

  function restore() {
    document.querySelectorAll(".fold").forEach(function (fold) {
      if (fold.id in folds) { fold.open = folds[fold.id]; }
    });
  }

  /* Kept is only what differs from how the page folds by itself: a leak that is found still opens its part. */
  document.addEventListener("toggle", function (e) {
    var fold = e.target;
    if (!fold.classList.contains("fold")) { return; }
    if (fold.open === (fold.dataset.open === "yes")) { delete folds[fold.id]; } else { folds[fold.id] = fold.open; }
    sessionStorage.setItem(KEPT, JSON.stringify(folds));
  }, true);
  document.body.addEventListener("htmx:afterSwap", restore);
  document.body.addEventListener("redrawn", restore);
  restore();
}());
