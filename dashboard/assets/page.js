// What only the browser can do: follow its theme, name its tab, mark the page in the menu, carry the selection
// from page to page, and hand out the address.
(function () {
  "use strict";
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  let choice = "auto";
  let copied = 0;

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
      carrySelection: function (search, links, keys) {
        const given = new URLSearchParams(search || "");
        const kept = new URLSearchParams(keys.filter((key) => given.get(key)).map((key) => [key, given.get(key)]));
        return links.map((link) => link.path + (kept.size ? "?" + kept : ""));
      },
      copyLink: async function (clicks) {
        // Called for a new address too, which takes the answer to the last click away.
        if (!clicks || clicks === copied) {
          return "";
        }
        copied = clicks;
        try {
          await navigator.clipboard.writeText(window.location.href);
          return "Link copied.";
        } catch {
          return "The browser blocked copying; copy the link from the address bar.";
        }
      },
      markPage: function (path) {
        for (const link of document.querySelectorAll("#navigation a")) {
          if (link.pathname === path) {
            link.setAttribute("aria-current", "page");
            // On a narrow screen the row of pages is longer than the screen. Sideways only: the page stays where it is.
            const row = link.closest("#navigation");
            row.scrollLeft = link.offsetLeft - (row.clientWidth - link.offsetWidth) / 2;
          } else {
            link.removeAttribute("aria-current");
          }
        }
      },
    },
  });
})();
