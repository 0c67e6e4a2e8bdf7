// Before the first paint: the remembered choice of light or dark, if one was made.
(function () {
  "use strict";
  try {
    var theme = localStorage.getItem("coaming-theme");
    if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
  } catch (error) { /* storage is closed to us: the system's setting stands */ }
})();
