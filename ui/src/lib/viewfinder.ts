/** The device's camera, live in a view-finder. */

/** Shows the camera in `video`; call what comes back to let it go. */
export async function openCamera(video: HTMLVideoElement): Promise<() => void> {
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1920 } } });
  const close = (): void => {
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  };
  try {
    video.srcObject = stream;
    await video.play();
  } catch (error) {
    close();
    throw error;
  }
  return close;
}

/** What the view-finder shows now. */
export function frameOf(video: HTMLVideoElement, canvas: HTMLCanvasElement): ImageData | null {
  canvas.width = video.videoWidth;
  canvas.height = video.videoHeight;
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  if (!pen || !canvas.width) return null;
  pen.drawImage(video, 0, 0);
  return pen.getImageData(0, 0, canvas.width, canvas.height);
}

/** The same as a file, for a photo. */
export async function pictureOf(video: HTMLVideoElement): Promise<Blob | null> {
  const canvas = document.createElement("canvas");
  if (!frameOf(video, canvas)) return null;
  return new Promise((done) => canvas.toBlob(done, "image/png"));
}
