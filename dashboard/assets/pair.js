// What the pair page does without the server: report a zoom, hand out its picture, fold its menus.
(function () {
  "use strict";

  function nameOf(address) {
    const query = new URLSearchParams(address);
    const parts = ["case", "channel", "repeat", "release"].map((key) => query.get(key)).filter(Boolean);
    return parts.join("-").replace(/[^\w.-]/g, "_") || "pair";
  }

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
      savePicture: function (clicks, figure) {
        if (clicks) {
          const drawn = document.querySelector("#" + figure + " .js-plotly-plot");
          const options = { format: "png", scale: 2, width: drawn.clientWidth, height: drawn.clientHeight };
          window.Plotly.downloadImage(drawn, { ...options, filename: nameOf(window.location.search) });
        }
        return window.dash_clientside.no_update;
      },
    },
  });
})();
