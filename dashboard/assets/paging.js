// Another part of a list replaces the present one: the scroll position of the page stays the same.
(function () {
  "use strict";
  let top = null;
  const step = (event) => event.target.closest && event.target.closest("a.page-step");

  // A link of the dashboard scrolls to the top after its click; the position is saved before and restored after.
  document.addEventListener("click", (event) => { top = step(event) ? window.scrollY : null; }, true);
  document.addEventListener("click", () => {
    if (top !== null) {
      window.scrollTo(0, top);
    }
  });
})();
