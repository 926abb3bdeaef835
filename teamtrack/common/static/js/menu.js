// The sheet under one's own name closes with Escape and with a press elsewhere.
const sheet = document.querySelector("details.me");

if (sheet) {
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !sheet.open) return;
    sheet.open = false;
    sheet.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => {
    if (!sheet.contains(event.target)) sheet.open = false;
  });
}
