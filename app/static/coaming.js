// What the sheets do beyond HTML. Every sheet works without this file.
(function () {
  "use strict";
  var root = document.documentElement;

  // Light and dark, remembered.
  function dark() {
    if (root.dataset.theme) return root.dataset.theme === "dark";
    return matchMedia("(prefers-color-scheme: dark)").matches;
  }
  var button = document.querySelector("[data-theme-switch]");
  if (button) {
    var name = function () { button.textContent = dark() ? "Light sheets" : "Dark sheets"; };
    button.hidden = false;
    name();
    button.addEventListener("click", function () {
      root.dataset.theme = dark() ? "light" : "dark";
      try { localStorage.setItem("coaming-theme", root.dataset.theme); } catch (error) { /* not kept */ }
      name();
    });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", name);
  }

  // A balloon and its row light each other up: on hover, on focus, on touch.
  function light(event) {
    var at = event.target.closest ? event.target.closest("[data-balloon]") : null;
    var number = at ? at.getAttribute("data-balloon") : null;
    document.querySelectorAll("[data-balloon]").forEach(function (each) {
      each.classList.toggle("lit", number !== null && each.getAttribute("data-balloon") === number);
    });
  }
  ["pointerover", "focusin"].forEach(function (kind) { document.addEventListener(kind, light); });

  // "/" goes to the search box.
  document.addEventListener("keydown", function (event) {
    if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("input, textarea, select, [contenteditable]")) return;
    var search = document.querySelector("[type=search]");
    if (search) { event.preventDefault(); search.focus(); }
  });

  // The error summary takes the focus, so that it is read first.
  var summary = document.querySelector(".error-summary");
  if (summary) summary.focus();
})();
