// Reads codes from pictures, away from the page. The first message says where the reader's files are.
"use strict";
let ready = null;

const load = ({ reader, wasm }) => {
  importScripts(reader);
  return self.ZXingWASM.prepareZXingModule({ overrides: { locateFile: () => wasm }, fireImmediately: true });
};

// Plain text keeps the separators between GS1 fields; the symbology identifier says that there are fields.
const OPTIONS = { formats: ["DataMatrix", "QRCode", "Code128", "DataBar", "EANUPC"], tryHarder: true, maxNumberOfSymbols: 1, textMode: "Plain" };

self.addEventListener("message", async ({ data }) => {
  if (data.reader) {
    ready = Promise.resolve().then(() => load(data));
    ready.catch(() => {});
    return;
  }
  try {
    await ready;
    const [found] = await self.ZXingWASM.readBarcodes(data.image, OPTIONS);
    self.postMessage({ id: data.id, text: found && found.isValid ? found.symbologyIdentifier + found.text : "" });
  } catch (problem) {
    self.postMessage({ id: data.id, problem: String(problem) });
  }
});
