// Another part of a list is shown in the place of the present one: the page stays where it is scrolled to.
(function () {
  "use strict";
  let top = null;
  const step = (event) => event.target.closest && event.target.closest("a.page-step");

  // A link of the dashboard scrolls to the top after its click; this is told before, and after.
  document.addEventListener("click", (event) => { top = step(event) ? window.scrollY : null; }, true);
  document.addEventListener("click", () => {
    if (top !== null) {
      window.scrollTo(0, top);
    }
  });
})();
