// A printed address brings its code along after the #: it is put into the field and taken out of the address at once.
const field = document.querySelector("[data-code]");

if (field && location.hash.length > 1) {
  field.value = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
  field.form.querySelector("button").focus();
}
