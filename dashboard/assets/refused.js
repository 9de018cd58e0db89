// A request of the page was refused, or the server failed or does not respond: show a sentence above the page.
(function () {
  "use strict";
  const CALLBACKS = "/_dash-update-component";
  const GONE = "The server is not responding. Check that it is running, then reload this page.";
  // 401 leads to the page for signing in; 429 and 503 are shown where the request was made.
  const ELSEWHERE = [401, 429, 503];
  const ask = window.fetch;

  function button(words, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "button";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }

  function say(words) {
    let place = document.getElementById("refused");
    if (!place) {
      place = document.createElement("section");
      place.id = "refused";
      place.className = "refused card";
      place.setAttribute("role", "alert");
      place.append(document.createElement("p"));
      place.append(button("Reload", () => window.location.reload()));
      place.append(button("Dismiss", () => place.remove()));
      document.body.prepend(place);
    }
    place.firstChild.textContent = words;
  }

  let leaving = false;
  window.addEventListener("pagehide", () => { leaving = true; });

  window.fetch = async function (...what) {
    const address = String(what[0] && what[0].url ? what[0].url : what[0]);
    const ours = address.includes(CALLBACKS);
    let answer;
    try {
      answer = await ask.apply(window, what);
    } catch (error) {
      // The browser ends what is under way when the page is left.
      if (ours && !leaving && error.name !== "AbortError") {
        say(GONE);
      }
      throw error;
    }
    if (ours && answer.status >= 400 && !ELSEWHERE.includes(answer.status)) {
      answer.clone().text().then((words) => say(words.slice(0, 600)));
    }
    return answer;
  };
})();
