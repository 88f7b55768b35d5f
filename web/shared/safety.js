/** The fixed rules of safety-rules.json for one check-in, most urgent first. Pure: no network, no clock, no page.
 *
 *  `about`: {tags, born_on, redness_minutes, earlier}; `earlier` are check-ins of the limb before this one.
 *  The server reads the same file in safety.py; a test holds the two against each other.
 */

const CHILD_DAYS = 18 * 365.25;
const DAY = 86_400_000;

export function evaluate(file, checkin, about = {}) {
  return file.rules.filter((rule) => holds(rule.when, checkin, about)).map(({ id, level, text }) => ({ id, level, text }));
}

const days = (from, to) => (Date.parse(`${to}T00:00Z`) - Date.parse(`${from}T00:00Z`)) / DAY;

function holds(when, checkin, about) {
  const [[name, value], ...more] = Object.entries(when);
  if (more.length) throw new Error('safety: a condition says one thing');
  switch (name) {
    case 'any': return value.some((inner) => holds(inner, checkin, about));
    case 'all': return value.every((inner) => holds(inner, checkin, about));
    case 'finding': return (checkin.skin ?? []).some((found) => found.finding === value);
    case 'sign': return (checkin.signs ?? []).includes(value);
    case 'profile': return (about.tags ?? []).includes(value);
    case 'child': return (Boolean(about.born_on) && days(about.born_on, checkin.date) < CHILD_DAYS) === value;
    case 'redness_over': return stayedRed(checkin, value === 'clinic' ? about.redness_minutes ?? 20 : value);
    case 'weight_gain': return gained(checkin, about.earlier ?? [], value);
    default: throw new Error(`safety: there is no condition ${name}`);
  }
}

const stayedRed = (checkin, limit) => (checkin.skin ?? []).some((found) => (found.redness_minutes ?? 0) > limit);

function gained(checkin, earlier, { kg, days: window }) {
  if (checkin.weight_kg === null || checkin.weight_kg === undefined) return false;
  const before = earlier.filter((one) => one.id !== checkin.id && one.weight_kg && days(one.date, checkin.date) >= 0 && days(one.date, checkin.date) <= window);
  return before.length > 0 && checkin.weight_kg - Math.min(...before.map((one) => one.weight_kg)) >= kg - 1e-9;
}
