// Gives the thumbs and fields of sliders the name of the group they stand in; the library leaves them without one.
(function () {
  "use strict";
  const PARTS = ".dash-slider-thumb, .dash-range-slider-input";

  function nameOf(part, group) {
    const same = [...group.querySelectorAll(part.tagName === "INPUT" ? "input" : ".dash-slider-thumb")];
    const ends = same.length === 2 ? [", start", ", end"] : [""];
    return group.getAttribute("aria-label") + (ends[same.indexOf(part)] || "");
  }

  function label(node) {
    if (node.nodeType !== Node.ELEMENT_NODE) {
      return;
    }
    for (const part of [...(node.matches(PARTS) ? [node] : []), ...node.querySelectorAll(PARTS)]) {
      const group = part.closest('[role="group"][aria-label]');
      if (group) {
        part.setAttribute("aria-label", nameOf(part, group));
      }
    }
  }

  document.addEventListener("DOMContentLoaded", function () {
    const added = (changes) => changes.forEach((one) => one.addedNodes.forEach(label));
    new MutationObserver(added).observe(document.body, { childList: true, subtree: true });
    label(document.body);
  });
})();
