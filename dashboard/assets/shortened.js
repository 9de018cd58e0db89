// Names that have no room: finds out which are cut, makes them reachable by keyboard, and shows the whole name on
// focus or under the mouse. A field of a menu that is cut shows its whole text likewise.
(function () {
  "use strict";
  const FOCUSABLE = 'a[href], button, summary, input, [tabindex="0"]';
  const FIELD = "input.mantine-Select-input, input.mantine-Input-input";
  const whole = document.createElement("div");
  whole.className = "whole-name";
  whole.setAttribute("aria-hidden", "true");

  function mark(name) {
    const text = name.firstElementChild;
    // Measured without the end, which would take room that the name then seems to have.
    name.classList.remove("is-shortened");
    // A hair of rounding is no cut.
    const cut = Boolean(text) && text.scrollWidth > name.clientWidth + 1;
    name.classList.toggle("is-shortened", cut);
    if (cut && !name.parentElement.closest(FOCUSABLE)) {
      name.tabIndex = 0;
    } else {
      name.removeAttribute("tabindex");
    }
  }

  // In the next frame: marking changes sizes, and an observer must not wait for itself.
  const sizes = new ResizeObserver((changed) =>
    window.requestAnimationFrame(() => changed.forEach((one) => mark(one.target)))
  );

  function watch(node) {
    if (node.nodeType === Node.ELEMENT_NODE) {
      for (const name of [...(node.matches(".shortened") ? [node] : []), ...node.querySelectorAll(".shortened")]) {
        sizes.observe(name);
        mark(name);
      }
    }
  }

  function cutAt(target, within) {
    if (!target || !target.closest) {
      return null;
    }
    const field = target.closest(FIELD);
    if (field) {
      return field.scrollWidth > field.clientWidth + 1 ? { place: field, text: field.value } : null;
    }
    const name = target.closest(".is-shortened") || (within && target.querySelector(".is-shortened"));
    return name ? { place: name, text: name.firstElementChild.textContent } : null;
  }

  function show(found) {
    if (!found) {
      whole.remove();
      return;
    }
    whole.textContent = found.text;
    document.body.append(whole);
    const place = found.place.getBoundingClientRect();
    const below = place.bottom + 6 + whole.offsetHeight <= window.innerHeight;
    whole.style.left = Math.max(8, Math.min(place.left, window.innerWidth - whole.offsetWidth - 8)) + "px";
    whole.style.top = (below ? place.bottom + 6 : Math.max(8, place.top - whole.offsetHeight - 6)) + "px";
  }

  document.addEventListener("focusin", (event) => show(cutAt(event.target, true)));
  document.addEventListener("focusout", () => show(null));
  document.addEventListener("mouseover", (event) => {
    const found = cutAt(event.target, false);
    if (found || !document.activeElement || !cutAt(document.activeElement, true)) {
      show(found);
    }
  });
  document.addEventListener("scroll", () => show(null), true);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      show(null);
    }
  });
  document.addEventListener("DOMContentLoaded", function () {
    const added = (changes) => changes.forEach((one) => one.addedNodes.forEach(watch));
    new MutationObserver(added).observe(document.body, { childList: true, subtree: true });
    watch(document.body);
  });
})();
