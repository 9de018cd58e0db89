// A file that is larger than the server takes is refused here, with a sentence, before it is read and sent.
(function () {
  "use strict";

  function refuseLarge(event, files) {
    const field = event.target.closest ? event.target.closest("[data-most-bytes]") : null;
    if (!field || !files || !files.length) {
      return;
    }
    const most = Number(field.dataset.mostBytes);
    const large = Array.from(files).find((file) => file.size > most);
    const words = field.querySelector(".field-refusal");
    words.hidden = !large;
    words.textContent = large
      ? `${large.name} has ${(large.size / 1e6).toFixed(1)} MB; send at most ${(most / 1e6).toFixed(0)} MB.`
      : "";
    if (large) {
      event.preventDefault();
      event.stopImmediatePropagation();
      if (event.target.type === "file") {
        event.target.value = "";
      }
    }
  }

  // The browser's own field is hidden inside the one that is shown, and has no name.
  function nameFields() {
    for (const input of document.querySelectorAll("[data-most-bytes] input[type=file]:not([aria-label])")) {
      input.setAttribute("aria-label", input.closest("[data-most-bytes]").dataset.words);
    }
  }

  new MutationObserver(nameFields).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("change", (event) => refuseLarge(event, event.target.files), true);
  document.addEventListener("drop", (event) => refuseLarge(event, event.dataTransfer && event.dataTransfer.files), true);
})();
