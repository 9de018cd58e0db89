// Saves a picture that the server drew: as it is, or in pixels.
(function () {
  "use strict";
  const PIXELS = 2;

  async function inPixels(drawing) {
    const address = URL.createObjectURL(drawing);
    try {
      const image = new Image();
      image.src = address;
      await image.decode();
      const canvas = document.createElement("canvas");
      canvas.width = PIXELS * image.width;
      canvas.height = PIXELS * image.height;
      canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
      return await new Promise((done) => canvas.toBlob(done, "image/png"));
    } finally {
      URL.revokeObjectURL(address);
    }
  }

  function handOut(content, name) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(content);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }

  // A menu closes when the focus or a click goes elsewhere, and with Escape.
  document.addEventListener("click", function (event) {
    for (const menu of document.querySelectorAll(".picture-menu[open]")) {
      if (!menu.contains(event.target)) {
        menu.open = false;
      }
    }
  });
  document.addEventListener("keydown", function (event) {
    const menu = event.key === "Escape" && event.target.closest ? event.target.closest(".picture-menu[open]") : null;
    if (menu) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    correlatePicture: {
      save: async function (picture, menu) {
        if (!picture) {
          return "";
        }
        document.getElementById(menu).open = false;
        try {
          const drawing = new Blob([picture.svg], { type: "image/svg+xml" });
          handOut(picture.name.endsWith(".png") ? await inPixels(drawing) : drawing, picture.name);
          return picture.name + " saved.";
        } catch {
          return "The browser could not save the picture.";
        }
      },
    },
  });
})();
