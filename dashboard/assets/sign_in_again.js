// A session that has ended is answered with 401: ask to sign in and come back to this very view.
(function () {
  "use strict";
  const ask = window.fetch;
  let asked = null;
  window.fetch = async function (...what) {
    const answer = await ask.apply(window, what);
    if (answer.status !== 401) {
      return answer;
    }
    const here = window.location.pathname + window.location.search;
    // Whoever goes to another view meanwhile stops the browser on its way: then ask for that view.
    if (asked !== here) {
      asked = here;
      window.location.assign("/sign-in?next=" + encodeURIComponent(here));
    }
    // The page is left behind: whoever asked is told nothing more, and shows no error.
    return new Promise(function () {});
  };
})();
