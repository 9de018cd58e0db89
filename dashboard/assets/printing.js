// While a page is printed, shows a drawing for paper in the place of every figure that is not fit for it: in light
// colours, and as large as the style sheet asks for. The figure itself stays as it is.
(function () {
  "use strict";
  const SMALLER = 0.8;

  function onPaper(style) {
    // Pairs of colours that the server writes: a dark one and what stands for it on paper.
    const words = style.getPropertyValue("--on-paper").trim().split(/\s+/);
    return new Map(words.flatMap((word, place) => (place % 2 ? [] : [[word, words[place + 1]]])));
  }

  function changed(part, change, key) {
    if (Array.isArray(part)) {
      return part.map((one) => changed(one, change));
    }
    if (part && Object.getPrototypeOf(part) === Object.prototype) {
      return Object.fromEntries(Object.entries(part).map(([name, one]) => [name, changed(one, change, name)]));
    }
    return change(part, key);
  }

  function forPaper(figure, colours) {
    const style = getComputedStyle(figure);
    const [width, height] = ["--print-width", "--print-height"].map((name) => parseFloat(style.getPropertyValue(name)));
    const inLight = (value) => (typeof value === "string" && colours.get(value.toLowerCase())) || value;
    const letters = (value, key) => (key === "size" && width ? SMALLER * value : inLight(value));
    const drawing = document.createElement("div");
    drawing.className = "paper-figure";
    figure.closest(".graph").append(drawing);
    window.Plotly.newPlot(
      drawing,
      changed(figure.data, inLight),
      {
        ...changed(figure.layout, letters),
        width: width || figure.clientWidth,
        height: height || figure.clientHeight,
        autosize: false,
      },
      { staticPlot: true },
    );
  }

  window.addEventListener("beforeprint", function () {
    const root = document.documentElement;
    const dark = root.getAttribute("data-mantine-color-scheme") === "dark";
    const colours = dark ? onPaper(getComputedStyle(root)) : new Map();
    for (const figure of document.querySelectorAll(".graph .js-plotly-plot")) {
      if (figure.data && (dark || getComputedStyle(figure).getPropertyValue("--print-width"))) {
        forPaper(figure, colours);
      }
    }
  });

  window.addEventListener("afterprint", function () {
    for (const drawing of document.querySelectorAll(".paper-figure")) {
      window.Plotly.purge(drawing);
      drawing.remove();
    }
  });
})();
