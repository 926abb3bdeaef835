// Light, dark or as the device: kept on this device in a cookie, so that the next page comes in it at once.
const root = document.documentElement;
const choice = document.querySelector("[data-theme-choice]");
const YEAR_S = 365 * 24 * 3600;

function apply(theme) {
  if (theme === "device") delete root.dataset.theme;
  else root.dataset.theme = theme;
}

function keep(theme) {
  const age = theme === "device" ? 0 : YEAR_S;
  document.cookie = `theme=${theme}; path=/; max-age=${age}; samesite=lax`;
}

if (choice) {
  choice.hidden = false;
  const now = root.dataset.theme || "device";
  for (const radio of choice.querySelectorAll("input")) radio.checked = radio.value === now;
  choice.addEventListener("change", (event) => {
    apply(event.target.value);
    keep(event.target.value);
  });
}
