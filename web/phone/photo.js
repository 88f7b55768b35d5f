/** A photo as taken → a small JPEG drawn anew: smaller, upright, and without place, time or device in it. */

const LONGEST = 1600; // px, as the server's own limit
const MOST_BYTES = 1_400_000; // the server takes 1.5 MB
export const MOST_PHOTOS = 3;

/** The size to draw at, keeping the shape. */
export function fitted(width, height, longest) {
  const scale = Math.min(1, longest / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}

const drawn = (canvas, quality) => new Promise((resolve, reject) => {
  canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error('photo: not drawn'))), 'image/jpeg', quality);
});

/** Raises for a file that is not a picture this phone can read. */
export async function smallJpeg(file) {
  const picture = await createImageBitmap(file);
  try {
    for (const [longest, quality] of [[LONGEST, 0.82], [LONGEST, 0.6], [1000, 0.6], [600, 0.5]]) {
      const canvas = document.createElement('canvas');
      Object.assign(canvas, fitted(picture.width, picture.height, longest));
      canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
      const blob = await drawn(canvas, quality);
      if (blob.size <= MOST_BYTES) return await blob.arrayBuffer();
    }
    throw new Error('photo: too large');
  } finally {
    picture.close();
  }
}
