// What only the browser can do: follow its theme, name its tab, and mark the page in the menu.
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
      nameTab: function (page, titles) {
        const title = titles.find(Boolean) || page;
        document.title = title ? title + " · correlate" : "correlate";
      },
      printPage: function (clicks) {
        if (clicks) {
          window.print();
        }
      },
      markPage: function (path) {
        for (const link of document.querySelectorAll("#navigation a")) {
          if (link.pathname === path) {
            link.setAttribute("aria-current", "page");
          } else {
            link.removeAttribute("aria-current");
          }
        }
      },
    },
  });
})();
