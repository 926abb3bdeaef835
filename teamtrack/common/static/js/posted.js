// A page that answers a form (what is wrong, a sheet to print) stands in the history under the address of the page that
// sent it: going back to it, or loading it anew, shows that page, asks nothing and sends nothing.
const { body, referrer } = document;

if ("posted" in body.dataset && referrer.startsWith(`${location.origin}/`)) history.replaceState(history.state, "", referrer);
