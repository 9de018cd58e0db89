// J and K step through the list of pairs, unless somebody is typing or operating something else.
(function () {
  "use strict";
  const WAYS = { j: ".step-next", k: ".step-previous" };
  const OPERATED = "input, textarea, select, [contenteditable], [role='listbox'], [role='slider'], [role='combobox']";

  document.addEventListener("keydown", function (event) {
    const way = WAYS[event.key.toLowerCase()];
    const held = event.ctrlKey || event.metaKey || event.altKey || event.shiftKey;
    if (!way || held || event.defaultPrevented || event.target.closest(OPERATED)) {
      return;
    }
    const link = document.querySelector(`#stepping a${way}`);
    if (link) {
      event.preventDefault();
      link.click();
    }
  });
})();
