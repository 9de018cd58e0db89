// A session that has ended is answered with 401: ask to sign in and come back to this very view.
(function () {
  "use strict";
  const ask = window.fetch;
  let leaving = false;
  window.fetch = async function (...what) {
    const answer = await ask.apply(window, what);
    if (answer.status !== 401) {
      return answer;
    }
    if (!leaving) {
      leaving = true;
      const here = window.location.pathname + window.location.search;
      window.location.assign("/sign-in?next=" + encodeURIComponent(here));
    }
    // The page is left behind: whoever asked is told nothing more, and shows no error.
    return new Promise(function () {});
  };
})();
