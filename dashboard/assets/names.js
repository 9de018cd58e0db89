// Names the fields that component libraries draw without a name, after the words that stand beside them.
(function () {
  "use strict";
  const ENDS = ["from", "to"];

  function nameOfSlider(part) {
    const group = part.closest("[role=group][aria-label]");
    if (!group) {
      return "";
    }
    const kind = part.matches("input") ? "input.dash-range-slider-input" : ".dash-slider-thumb";
    const alike = Array.from(group.querySelectorAll(kind));
    const words = group.getAttribute("aria-label");
    return alike.length === ENDS.length ? `${words}, ${ENDS[alike.indexOf(part)]}` : words;
  }

  function nameOfFile(field) {
    const words = field.closest(".file-field").querySelectorAll("span");
    return Array.from(words, (part) => part.textContent).join(", ");
  }

  const UNNAMED = {
    ".dash-slider-thumb:not([aria-label]), .dash-range-slider-input:not([aria-label])": nameOfSlider,
    ".file-field input[type=file]:not([aria-label])": nameOfFile,
  };
  let due = false;

  function name() {
    due = false;
    for (const [parts, nameOf] of Object.entries(UNNAMED)) {
      for (const part of document.querySelectorAll(parts)) {
        const words = nameOf(part);
        if (words) {
          part.setAttribute("aria-label", words);
        }
      }
    }
  }

  // Many changes of one moment are looked at once.
  new MutationObserver(function () {
    if (!due) {
      due = true;
      window.requestAnimationFrame(name);
    }
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
