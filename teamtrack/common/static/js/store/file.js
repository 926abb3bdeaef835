// What waits, written to a file by hand: a copy for whoever helps; the entries stay here.
export function writeFile(name, items) {
  const text = JSON.stringify(items.map(({ entry, state, code, detail }) => ({ entry, state, code, detail })), null, 1);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
