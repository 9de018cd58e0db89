// Sets the theme before anything is painted, so that a dark page does not flash white.
(function () {
  "use strict";
  let choice = "auto";
  try {
    choice = window.localStorage.getItem("correlate-theme") || "auto";
  } catch {
    // Storage is refused: the system decides.
  }
  const dark = choice === "dark" || (choice === "auto" && window.matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
})();
