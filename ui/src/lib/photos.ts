/** Photos: made smaller on the device, named by the hash of their bytes. */

const LONGEST_SIDE_PX = 2000;
/** What the server takes; a photo of the longest side allowed here is far under it. */
export const LARGEST_BYTES = 10_000_000;

export interface Taken {
  sha256: string;
  content: Blob;
}

/** Width and height with the longer side at most `longest`; never larger than they were. */
export function fitted(width: number, height: number, longest = LONGEST_SIDE_PX): [number, number] {
  const by = Math.min(1, longest / Math.max(width, height));
  return [Math.max(1, Math.round(width * by)), Math.max(1, Math.round(height * by))];
}

/** A JPEG of the picture under the server's limit. Places and names of the camera are gone from it. */
export async function shrunk(file: Blob): Promise<Taken> {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const canvas = document.createElement("canvas");
  let content: Blob | null = null;
  for (let longest = LONGEST_SIDE_PX; !content || content.size > LARGEST_BYTES; longest /= 2) {
    if (longest < 100) throw new Error("the picture cannot be made small enough");
    [canvas.width, canvas.height] = fitted(picture.width, picture.height, longest);
    canvas.getContext("2d")!.drawImage(picture, 0, 0, canvas.width, canvas.height);
    content = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", 0.82));
    if (!content) throw new Error("the picture cannot be read");
  }
  picture.close();
  const hash = await crypto.subtle.digest("SHA-256", await content.arrayBuffer());
  const sha256 = [...new Uint8Array(hash)].map((each) => each.toString(16).padStart(2, "0")).join("");
  return { sha256, content };
}
