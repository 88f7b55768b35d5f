/** The wearer's own calendar: dates are the text they would write down, never an instant in another zone. */

const two = (number) => String(number).padStart(2, '0');

export const localDate = (now) => `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;

export const localTime = (now) => `${two(now.getHours())}:${two(now.getMinutes())}`;

/** Distance from UTC as "+02:00", from JavaScript's minutes west. */
export function offsetText(now) {
  const east = -now.getTimezoneOffset();
  const minutes = Math.abs(east);
  return `${east < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}

export const zoneName = () => Intl.DateTimeFormat().resolvedOptions().timeZone ?? null;

/** Days by the calendar alone: noon UTC is only a counter here, so no clock change can move it. */
function counted(date) {
  const [year, month, day] = date.split('-').map(Number);
  return Math.round(Date.UTC(year, month - 1, day, 12) / 86_400_000 - 0.5);
}

export const daysBetween = (from, to) => counted(to) - counted(from);

export function plusDays(date, days) {
  const moved = new Date((counted(date) + days + 0.5) * 86_400_000);
  return `${moved.getUTCFullYear()}-${two(moved.getUTCMonth() + 1)}-${two(moved.getUTCDate())}`;
}

/** A local midday, for formatting a calendar date in the wearer's own words. */
export function middayOf(date) {
  const [year, month, day] = date.split('-').map(Number);
  return new Date(year, month - 1, day, 12);
}

/** What the clock suggests; the wearer sees it and may say otherwise. */
export function momentAt(now) {
  if (now.getHours() < 11) return 'putting_on';
  return now.getHours() < 17 ? 'during' : 'end_of_day';
}

export function ageOn(born, date) {
  if (!born) return null;
  const before = date.slice(5) < born.slice(5) ? 1 : 0;
  return Number(date.slice(0, 4)) - Number(born.slice(0, 4)) - before;
}
