// What the pair page does without the server: report a zoom.
(function () {
  "use strict";

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlatePair: {
      zoomOf: function (changed) {
        const along = Object.keys(changed || {}).some((key) => key.startsWith("xaxis.range") || key === "xaxis.autorange");
        return along ? changed : window.dash_clientside.no_update;
      },
    },
  });
})();
