// Another part of a list is shown in the place of the present one: the page stays where it is scrolled to,
// and the keyboard stays at the links of the list.
(function () {
  "use strict";
  let top = null;
  let left = null;
  const step = (event) => event.target.closest && event.target.closest("a.page-step");

  // A link of the dashboard scrolls to the top after its click; this is told before, and after.
  document.addEventListener("click", (event) => {
    const link = step(event);
    top = link ? window.scrollY : null;
    left = link ? { list: link.closest(".pager").getAttribute("aria-label"), words: link.textContent } : null;
  }, true);
  document.addEventListener("click", () => {
    if (top !== null) {
      window.scrollTo(0, top);
    }
  });

  // At the end of a list the link that was followed becomes plain text, which cannot have the focus.
  new MutationObserver(() => {
    if (left === null || document.activeElement !== document.body) {
      return;
    }
    const links = Array.from(document.querySelectorAll(".pager a.page-step"))
      .filter((link) => link.closest(".pager").getAttribute("aria-label") === left.list);
    const same = links.find((link) => link.textContent === left.words);
    const next = same || links[["Next", "Last"].includes(left.words) ? links.length - 1 : 0];
    if (next) {
      next.focus({ preventScroll: true });
    }
  }).observe(document, { childList: true, subtree: true });
})();
