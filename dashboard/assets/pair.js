// What the pair page does without the server: hand out its link.
(function () {
  "use strict";
  let copied = 0;

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlatePair: {
      zoomOf: function (changed) {
        const along = Object.keys(changed || {}).some((key) => key.startsWith("xaxis.range") || key === "xaxis.autorange");
        return along ? changed : window.dash_clientside.no_update;
      },
      copyLink: async function (clicks) {
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
    },
  });
})();
