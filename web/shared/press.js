/** What a finger came down on stays on the page until its tap is over, or the browser would tell nobody of it. */

const LONGEST = 2_000; // ms of a press whose end is never told; judgement
const TO_CLICK = 60; // ms from lifting a finger to its click; judgement

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

  return { over: () => over };
}
