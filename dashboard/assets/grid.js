// The grid is large and on few pages: its library is loaded when a page shows the first one.
(function () {
  "use strict";
  const source = document.getElementById("grid-source").content;
  let loading = null;
  let Grid = null;

  function load() {
    loading ||= new Promise(function (resolve, reject) {
      const script = document.createElement("script");
      script.src = source;
      script.onload = function () {
        Grid = window.dash_ag_grid.AgGrid;
        // The element keeps its type, or a grid that is shown would begin anew.
        window.dash_ag_grid = { ...window.dash_ag_grid, AgGrid: AgGrid };
        resolve();
      };
      script.onerror = reject;
      document.head.appendChild(script);
    });
    return loading;
  }

  function AgGrid(props) {
    const [state, setState] = window.React.useState(Grid ? "there" : "loading");
    window.React.useEffect(function () {
      load().then(
        () => setState("there"),
        () => setState("failed"),
      );
    }, []);
    if (state === "there") {
      return window.React.createElement(Grid, props);
    }
    const words = state === "failed" ? "The table could not be loaded. Reload this page." : "";
    return window.React.createElement("div", { id: props.id, style: props.style, className: "grid-waiting" }, words);
  }

  // The renderer hands the reason of a change only to components that ask for it.
  AgGrid.dashRenderType = true;
  window.dash_ag_grid = { AgGrid: AgGrid };
})();
