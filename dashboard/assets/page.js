// The two things that only the browser can do: follow its theme, and name its tab.
(function () {
  "use strict";
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  let choice = "auto";

  function shown() {
    if (choice === "auto") {
      return system.matches ? "dark" : "light";
    }
    return choice;
  }

  system.addEventListener("change", function () {
    window.dash_clientside.set_props("provider", { forceColorScheme: shown() });
    window.dash_clientside.set_props("theme", { data: shown() });
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlate: {
      chooseTheme: function (chosen) {
        choice = chosen || "auto";
        try {
          window.localStorage.setItem("correlate-theme", choice);
        } catch {
          // Storage is refused: the choice holds until the page is closed.
        }
        return [shown(), shown()];
      },
      nameTab: function (title) {
        document.title = title ? title + " · correlate" : "correlate";
      },
    },
  });
})();
