"use strict";
// The code stands behind the # of the link, so that it is never sent anywhere by itself.
const letters = decodeURIComponent(location.hash.slice(1));
if (letters) {
  history.replaceState(null, "", location.pathname);
  document.getElementById("code").value = letters;
  document.getElementById("pair").requestSubmit();
}
