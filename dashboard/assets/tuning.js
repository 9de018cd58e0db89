// What the tuning page does without the server: waiting until the sliders rest.
(function () {
  "use strict";
  const REST_MS = 400;
  let moves = 0;

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlateTuning: {
      settled: async function (values) {
        const mine = ++moves;
        await new Promise((done) => setTimeout(done, REST_MS));
        return mine === moves ? values : window.dash_clientside.no_update;
      },
    },
  });
})();
