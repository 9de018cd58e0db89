// A busy server answers 429 and says when to ask again: ask again then, and show a notice on the page meanwhile.
(function () {
  "use strict";
  const CALLBACKS = "/_dash-update-component";
  const LONGEST_MS = 120000;
  const ask = window.fetch;
  let refused = 0;
  let box = null;

  function build() {
    const made = document.createElement("div");
    made.className = "busy";
    const words = document.createElement("span");
    words.setAttribute("role", "status");
    const again = document.createElement("button");
    again.type = "button";
    again.className = "button";
    again.textContent = "Reload";
    again.addEventListener("click", function () {
      window.location.reload();
    });
    made.append(words, again);
    document.body.append(made);
    return made;
  }

  function say(words, forGood) {
    box = box || build();
    box.querySelector("span").textContent = words;
    box.classList.toggle("busy-long", forGood);
  }

  function pause(answer) {
    const seconds = Number(answer.headers.get("Retry-After")) || 2;
    // Not all at the same moment.
    return new Promise((go) => setTimeout(go, seconds * 1000 * (0.5 + Math.random())));
  }

  async function askAgain(request, answer) {
    const end = Date.now() + LONGEST_MS;
    while (answer.status === 429 && Date.now() < end) {
      say("The server is busy. This page will be completed as soon as possible.", false);
      await pause(answer);
      answer = await ask.apply(window, request);
    }
    return answer;
  }

  window.fetch = async function (...request) {
    const answer = await ask.apply(window, request);
    if (answer.status !== 429 || !String(request[0]).includes(CALLBACKS)) {
      return answer;
    }
    refused += 1;
    let last = answer;
    try {
      last = await askAgain(request, answer);
    } finally {
      refused -= 1;
      if (last.status === 429) {
        say("The server is too busy to complete this page. Reload to try again.", true);
      } else if (!refused) {
        say("", false);
      }
    }
    return last;
  };
})();
