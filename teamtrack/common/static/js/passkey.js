// Passkeys: a form asks the browser for one (get) or for a new one (create), and sends what it answers.
const bytes = (text) => Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (one) => one.charCodeAt(0));
const text = (buffer) =>
  buffer && btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
const withId = (one) => ({ ...one, id: bytes(one.id) });

if ("PublicKeyCredential" in globalThis) {
  for (const form of document.querySelectorAll("[data-passkey]")) {
    form.hidden = false;
    form.addEventListener("submit", (event) => ask(event, form));
  }
  document.querySelector("[data-no-passkeys]")?.remove();
}

async function ask(event, form) {
  event.preventDefault();
  if (!form.reportValidity()) return;
  try {
    const { publicKey } = await options(form);
    const found = form.dataset.passkey === "create" ? await made(publicKey) : await chosen(publicKey);
    form.elements.credential.value = JSON.stringify(found);
    form.submit();
  } catch {
    document.getElementById("live").textContent = form.dataset.fault;
  }
}

/** The challenge stands in the page, or is fetched where the form says so. */
async function options(form) {
  if (!form.dataset.from) return JSON.parse(document.getElementById("passkey-options").textContent);
  const answer = await fetch(form.dataset.from, { headers: { Accept: "application/json" }, cache: "no-store" });
  if (!answer.ok) throw new Error("no challenge");
  return answer.json();
}

async function made(publicKey) {
  const credential = await navigator.credentials.create({
    publicKey: {
      ...publicKey,
      challenge: bytes(publicKey.challenge),
      user: withId(publicKey.user),
      excludeCredentials: (publicKey.excludeCredentials ?? []).map(withId),
    },
  });
  const { clientDataJSON, attestationObject } = credential.response;
  return told(credential, { clientDataJSON: text(clientDataJSON), attestationObject: text(attestationObject) });
}

async function chosen(publicKey) {
  const credential = await navigator.credentials.get({
    publicKey: {
      ...publicKey,
      challenge: bytes(publicKey.challenge),
      allowCredentials: (publicKey.allowCredentials ?? []).map(withId),
    },
  });
  const { clientDataJSON, authenticatorData, signature, userHandle } = credential.response;
  const response = { clientDataJSON, authenticatorData, signature, userHandle };
  return told(credential, Object.fromEntries(Object.entries(response).map(([name, value]) => [name, text(value)])));
}

const told = (credential, response) => ({
  id: credential.id,
  rawId: text(credential.rawId),
  type: credential.type,
  clientExtensionResults: credential.getClientExtensionResults(),
  response,
});
