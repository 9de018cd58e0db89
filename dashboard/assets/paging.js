// Another part of a list replaces the present one: the scroll position of the page stays the same, and the
// focus of the keyboard stays on the links of the list.
(function () {
  "use strict";
  let top = null;
  let left = null;
  const step = (event) => event.target.closest && event.target.closest("a.page-step");

  // A link of the dashboard scrolls to the top after its click; the position is saved before and restored after.
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
