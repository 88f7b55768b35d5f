/** A finger that is down: what it came down on stays on the page until its tap is over.
 *
 *  A page drawn anew between down and up takes the key away, and the browser then tells nobody of the tap.
 */

const LONGEST = 2_000; // ms; judgement: a press whose end is never told (lifted outside the window) holds up nothing longer
const TO_CLICK = 60; // ms from lifting a finger to the click it makes; a mouse's comes at once. Judgement.

export function pressWatch(root) {
  let over = Promise.resolve();
  let end = null; // of the press that is on
  let ending = null;

  const later = (ms) => {
    clearTimeout(ending);
    ending = setTimeout(() => {
      end?.();
      end = null;
    }, ms);
  };
  const began = () => {
    if (!end) over = new Promise((done) => (end = done));
    later(LONGEST);
  };
  const isSpace = (event) => event.key === ' '; // presses a key when it is let go
  root.addEventListener('pointerdown', began, true);
  root.addEventListener('keydown', (event) => isSpace(event) && !event.repeat && began(), true);
  for (const type of ['pointerup', 'pointercancel']) root.addEventListener(type, () => later(TO_CLICK), true);
  root.addEventListener('keyup', (event) => isSpace(event) && later(TO_CLICK), true);
  root.addEventListener('click', () => later(0), true); // after those who listen for it

  /** Kept when no finger is down: at once, or as soon as its tap is over. */
  return { over: () => over };
}
