// What the pair page does without the server: report a zoom, fold its menus.
(function () {
  "use strict";

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlatePair: {
      zoomOf: function (changed) {
        const along = Object.keys(changed || {}).some((key) => key.startsWith("xaxis.range") || key === "xaxis.autorange");
        return along ? changed : window.dash_clientside.no_update;
      },
      unfold: function (clicks) {
        const open = clicks % 2 === 1;
        return [open ? "controls is-unfolded" : "controls", String(open)];
      },
    },
  });
})();
