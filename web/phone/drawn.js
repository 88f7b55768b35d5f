/** The line of the day that was just saved is seen being drawn: once, and only where motion is welcome. */

const LASTS = 900; // ms
const seen = { id: null, since: 0 };

/** After each paint: drawn anew in between, the line goes on where it was. */
export function drawLine(id) {
  const line = document.getElementById('line-today');
  if (!line || window.matchMedia('(prefers-reduced-motion: reduce)').matches) return;
  if (seen.id !== id) Object.assign(seen, { id, since: performance.now() });
  const past = performance.now() - seen.since;
  if (past < LASTS) line.animate({ strokeDasharray: [1, 1], strokeDashoffset: [1, 0] }, { duration: LASTS, easing: 'ease-out' }).currentTime = past;
}
