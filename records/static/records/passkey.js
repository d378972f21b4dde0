// A button that has the browser make a passkey, or answer with one, and sends the form with what came of it. The server
// says what is asked and judges the answer. Where this cannot work here it says why, and the way out.
(() => {
  "use strict";
  const BYTES = ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"];

  const bytesOf = (text) =>
    Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (sign) => sign.charCodeAt(0));
  const textOf = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

  // Why no passkey can be made or given in this browser, at this address; "" when one can.
  const whyNot = (origin) => {
    if (!window.isSecureContext) {
      return `Passkeys work over HTTPS, or on this machine itself as localhost. This page was opened as ${location.origin}.`;
    }
    if (location.origin !== origin) {
      return `Passkeys of this site belong to ${origin}. This page was opened as ${location.origin}: open it there.`;
    }
    if (!window.PublicKeyCredential || !navigator.credentials) return "This browser cannot use passkeys.";
    return "";
  };

  const asked = async (box, form) => {
    const answer = await fetch(box.dataset.asks, {
      method: "POST",
      credentials: "same-origin",
      headers: { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value },
    });
    if (answer.status === 429) throw new Error("That was asked for too often. Wait until the next full hour.");
    if (!answer.ok || answer.redirected) throw new Error("This page has been open too long. Open it anew.");
    const options = await answer.json();
    options.challenge = bytesOf(options.challenge);
    if (options.user) options.user.id = bytesOf(options.user.id);
    for (const each of [...(options.excludeCredentials || []), ...(options.allowCredentials || [])]) {
      each.id = bytesOf(each.id);
    }
    return options;
  };

  const written = (made) => {
    const response = {};
    for (const name of BYTES) {
      if (made.response[name]) response[name] = textOf(made.response[name]);
    }
    if (made.response.getTransports) response.transports = made.response.getTransports();
    return JSON.stringify({ id: made.id, rawId: textOf(made.rawId), type: made.type, response });
  };

  const inWords = (error, how) => {
    if (error.name === "NotAllowedError") {
      return how === "create"
        ? "No passkey was made: it was cancelled, or took too long. Try again."
        : "No passkey was given: it was cancelled, took too long, or this device holds none of yours. Try again.";
    }
    if (error.name === "InvalidStateError") return "This device holds a passkey of yours already. Choose another device.";
    if (error.name === "NotSupportedError" || error.name === "ConstraintError") {
      return "This device cannot make a passkey of the kind that is asked for. Choose another device.";
    }
    if (error.name === "SecurityError") return "The browser lets no passkey be used at this address.";
    if (error instanceof TypeError) return "There is no connection to the site just now. Try again.";
    return error.message;
  };

  for (const box of document.querySelectorAll("[data-passkey]")) {
    const { passkey: how, origin, orElse } = box.dataset;
    const button = box.querySelector("button");
    const said = box.querySelector(".passkey-said");
    const field = box.querySelector("input[name=passkey]");
    const say = (words, wrong) => {
      said.textContent = words;
      said.classList.toggle("field-error", Boolean(wrong));
    };
    const no = whyNot(origin);
    if (no) {
      say(`${no} ${orElse}`, true);
      continue;
    }
    say("");
    button.hidden = false;
    // A page that comes back out of the browser's memory must not send what was answered before.
    window.addEventListener("pageshow", () => { field.value = ""; });
    button.addEventListener("click", async () => {
      if (button.getAttribute("aria-disabled")) return;
      button.setAttribute("aria-disabled", "true");
      say("Waiting for the device …");
      try {
        const publicKey = await asked(box, button.form);
        const made = how === "create"
          ? await navigator.credentials.create({ publicKey })
          : await navigator.credentials.get({ publicKey });
        field.value = written(made);
        say("Sending …");
        button.form.submit();
      } catch (error) {
        say(`${inWords(error, how)} Or ${orElse[0].toLowerCase()}${orElse.slice(1)}`, true);
        button.removeAttribute("aria-disabled");
      }
    });
  }
})();
