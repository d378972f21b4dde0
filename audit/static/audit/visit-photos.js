// Photos of a visit: made smaller here, then sent at once, or queued in front of the record of their visit.
self.VisitPhotos = (() => {
  "use strict";
  const SIDE = 1600; // pixels
  const LATER = new Set(["unreachable", "late", "busy", "held"]);

  async function smaller(file) {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    return new Promise((resolve) => canvas.toBlob((blob) => resolve(blob || file), "image/jpeg", 0.82));
  }

  const reasonIn = (html) => {
    const found = new DOMParser().parseFromString(html || "", "text/html").querySelectorAll(".problems li");
    return [...found].map((each) => each.textContent.trim()).join(" ");
  };

  // Resolves with what to tell the person and whether the server has it. `more` are further fields to send with it.
  async function take(file, { address, caption, ref, label, more }) {
    let small = file;
    try { small = await smaller(file); } catch { /* the server says what is wrong with it */ }
    const photo = new File([small], "photo.jpg", { type: small.type });
    const fields = [["photo", photo], ["photo_caption", caption], ...more];
    const shown = caption ? [["What it shows", caption]] : [];
    let answer;
    try {
      answer = await self.Outbox.queue({ label, address, fields, shown, group: ref });
    } catch {
      return { said: "This device has no room to keep the photo. Take it again with a signal.", kept: false };
    }
    const { id, word, said } = answer;
    if (word === "recorded") return { said: "The photo is kept on the server.", kept: true };
    if (LATER.has(word)) return { said: "The photo is kept on this device and sent when there is a signal.", kept: true };
    if (word === "signed-out") return { said: "The photo is kept on this device and sent when you sign in again.", kept: true };
    if (word === "full") return { said: `${reasonIn(said)} It is kept on this device, and sent by itself then.`, kept: true };
    if (word !== "refused") return { said: "The photo is kept on this device, and needs a look under “Waiting to be sent”.", kept: true };
    await self.OutboxStore.remove(id); // seen and told now: it holds up nothing
    return { said: reasonIn(said) || "The photo was not taken. Take it again.", kept: false };
  }

  return { take };
})();
