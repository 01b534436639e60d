(function () {
  "use strict";
  var each = function (list, f) { Array.prototype.forEach.call(list, f); };
  var players = document.querySelectorAll("audio");
  // Starting one player stops the others; in the same recording it goes on where they were.
  each(players, function (a) {
    a.addEventListener("play", function () {
      each(players, function (b) {
        if (b === a || b.paused) { return; }
        if (b.closest(".listen") === a.closest(".listen")) { a.currentTime = b.currentTime; }
        b.pause();
      });
    });
  });
  each(document.querySelectorAll(".listen"), function (group) {
    var bar = group.querySelector(".switch");
    var own = group.querySelectorAll("audio");
    if (!bar || own.length < 2) { return; }
    var last = null;
    var buttons = [];
    each(own, function (a) {
      var key = document.createElement("button");
      key.type = "button";
      key.textContent = a.dataset.n === "S" ? "source" : a.dataset.n;
      key.setAttribute("aria-label", "hear " + a.getAttribute("aria-label"));
      key.addEventListener("click", function () {
        if (!a.paused) { a.pause(); return; }
        if (last && last !== a && last.paused && !last.ended) { a.currentTime = last.currentTime; }
        a.play();
      });
      a.addEventListener("play", function () { last = a; });
      var show = function () { key.setAttribute("aria-pressed", String(!a.paused && !a.ended)); };
      each(["play", "pause", "ended"], function (name) { a.addEventListener(name, show); });
      show();
      bar.appendChild(key);
      buttons.push(key);
    });
    bar.hidden = false;
  });
  var closed = [];
  window.addEventListener("beforeprint", function () {
    closed = [];
    each(document.querySelectorAll("details:not([open])"), function (d) { d.open = true; closed.push(d); });
  });
  window.addEventListener("afterprint", function () {
    closed.forEach(function (d) { d.open = false; });
  });
}());
