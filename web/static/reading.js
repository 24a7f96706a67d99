/* The slider shows at once what it does. */
(function () {
  "use strict";
  var slider = document.querySelector(".slider input");
  slider.addEventListener("input", function () {
    var page = document.documentElement.classList;
    for (var n = 20; n <= 100; n += 10) { page.toggle("b" + n, n < 100 && String(n) === slider.value); }
  });
}());
