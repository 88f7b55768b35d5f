/** Which taps count, in one place for every key of the app: a thumb that trembles, slips or is late answers nothing.
 *
 *  Times are those of the events, places are in CSS px. Pure: the page's own events are brought by phone.js.
 *  All four numbers are judgement, tried by hand; the first is what was asked for.
 */

export const SETTLE = 500; // ms after a screen was painted in which it takes nothing
export const TWICE = 600; // ms in which a second tap on the same key, or in the same place, is the first one again
export const SLIP = 10; // px a finger may move while it is down
export const PLACE = 24; // px around a tap that count as the same place, whatever lies there now

const apart = (a, b) => Math.hypot(a.x - b.x, a.y - b.y);

export function tapsFilter() {
  let settling = false;
  let press = null; // where and when the finger came down, until its tap is judged
  let last = null; // the last tap that was on a key

  /** A finger comes down. */
  const pressed = ({ x, y }) => {
    press = { x, y, early: settling };
  };

  /** What a tap is: "take", or why not: "early", "slip", "again" (with the key that was tapped first).
   *  `key` names what was tapped, null for what is no key. A press of a keyboard or a switch has no place.
   */
  function judge({ time, x, y, key }) {
    const began = press;
    press = null;
    if (settling || began?.early) return { says: 'early' };
    if (began && apart(began, { x, y }) > SLIP) return { says: 'slip' };
    const here = began ? { x, y } : null;
    const soon = last && time - last.time < TWICE;
    // In the same place it is the first tap again also where the key has moved away, and nothing lies there now.
    if (soon && ((key !== null && key === last.key) || (here && last.here && apart(here, last.here) < PLACE))) {
      last.time = time; // a thumb that goes on trembling has still tapped once
      return { says: 'again', first: last.key };
    }
    if (key === null) return { says: 'take' };
    last = { time, key, here };
    return { says: 'take' };
  }

  /** A new screen was shown, or its moment is over. What was tapped before it is then long past. */
  function settle(is) {
    settling = is;
    last = null;
  }

  return { pressed, judge, settle };
}
