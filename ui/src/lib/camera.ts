/** Reading the code on a ticket, with the reader's own file served beside the app. */

import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";
import { frameOf, openCamera } from "./viewfinder";
import wasm from "zxing-wasm/reader/zxing_reader.wasm?url";

prepareZXingModule({ overrides: { locateFile: (path: string, prefix: string) => (path.endsWith(".wasm") ? wasm : prefix + path) } });

/** The text of the first code in a picture; null where there is none. */
export async function readCode(picture: Blob | ImageData): Promise<string | null> {
  const found = await readBarcodes(picture, { tryHarder: true, maxNumberOfSymbols: 1 });
  return found.find((each) => each.isValid)?.text ?? null;
}

/** Looks through the camera until a code is read or `until` says stop. */
export async function watchCamera(video: HTMLVideoElement, until: AbortSignal): Promise<string | null> {
  const close = await openCamera(video);
  try {
    const canvas = document.createElement("canvas");
    while (!until.aborted) {
      const frame = frameOf(video, canvas);
      const text = frame && (await readCode(frame));
      if (text) return text;
      await new Promise((done) => setTimeout(done, 150));
    }
    return null;
  } finally {
    close();
  }
}
