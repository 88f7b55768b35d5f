/** The fixed rules of safety-rules.json for one check-in, most urgent first. Pure: no network, no clock, no page.
 *
 *  `about`: {tags, born_on, redness_minutes, before, earlier}; `before` is what held until an instant, oldest first; `earlier` are check-ins of the limb before this one.
 *  The server reads the same file in safety.py; a test holds the two against each other.
 */

export const CHILD_DAYS = 18 * 365.25;
const DAY = 86_400_000;
const SESSION_DAYS = 7; // a last session further back is one that was not logged: judgement, as on the server
export const CAREFUL = ['reduced_sensation', 'diabetes', 'vascular'];

export function evaluate(file, checkin, given = {}) {
  const about = heldThen(checkin, given);
  return file.rules.filter((rule) => holds(rule.when, checkin, about)).map(({ id, level, text, calls }) => ({ id, level, text, ...(calls ? { calls } : {}) }));
}

/** What held when an entry was written: a fact entered later does not rewrite what was said before. */
function heldThen(checkin, about) {
  const at = checkin.written_at ?? `${checkin.date}T23:59:59`;
  const then = (about.before ?? []).find((one) => at.slice(0, 19) < one.until.slice(0, 19));
  return then ? { ...about, tags: then.tags, born_on: then.born_on, redness_minutes: then.redness_minutes } : about;
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
    case 'redness_over': return stayedRed(checkin, value === 'clinic' ? rednessLimit(about) : value);
    case 'pain_at_least': return checkin.pain !== null && checkin.pain !== undefined && checkin.pain >= value;
    case 'comfort_at_most': return checkin.comfort !== null && checkin.comfort !== undefined && checkin.comfort <= value;
    case 'falls_at_least': return (checkin.falls ?? 0) >= value;
    case 'weight_gain': return gained(checkin, about, value);
    default: throw new Error(`safety: there is no condition ${name}`);
  }
}

/** The clinic's limit in minutes; half of it for a limb that feels less or heals badly (judgement). */
export const rednessLimit = ({ tags = [], redness_minutes } = {}) =>
  (redness_minutes ?? 20) / (tags.some((tag) => CAREFUL.includes(tag)) ? 2 : 1);

const stayedRed = (checkin, limit) => (checkin.skin ?? []).some((found) => (found.redness_minutes ?? 0) > limit);

function gained(checkin, { tags = [], earlier = [] }, { kg, days: window }) {
  if (checkin.weight_kg === null || checkin.weight_kg === undefined) return false;
  const weighed = earlier.filter((one) => one.id !== checkin.id && one.weight_kg && days(one.date, checkin.date) >= 0 && days(one.date, checkin.date) <= window);
  const before = tags.includes('dialysis') ? alike(checkin, weighed, earlier) : weighed;
  return before.length > 0 && checkin.weight_kg - Math.min(...before.map((one) => one.weight_kg)) >= kg - 1e-9;
}

/** On dialysis: the weights of days as long after a session, since what is gained between two is expected (judgement).
 *  Where the last session before one is not in the log, it counts: a call too many is the lesser harm.
 */
function alike(checkin, weighed, earlier) {
  const sessions = [...earlier, checkin].filter((one) => one.tags?.includes('dialysis')).map((one) => one.date).sort();
  const gone = afterSession(checkin, sessions);
  return weighed.filter((one) => gone === null || [null, gone].includes(afterSession(one, sessions)));
}

const BACK_KG = 1; // of what it was before: a fast gain is then over; judgement, as on the server
const GAIN_DAYS = 7; // the longest span of the rule on a fast gain

/** Whether a later weight is back near what it was before a fast gain; on dialysis, of a day as long after a session. */
export function weightBack(later, report, about = {}) {
  const { tags = [], earlier = [] } = heldThen(report, about);
  if (typeof later.weight_kg !== 'number') return false;
  const dialysis = tags.includes('dialysis');
  const weighed = earlier.filter((one) => one.id !== report.id && one.weight_kg && days(one.date, report.date) >= 0 && days(one.date, report.date) <= GAIN_DAYS);
  const before = dialysis ? alike(report, weighed, earlier) : weighed;
  if (!before.length || later.weight_kg > Math.min(...before.map((one) => one.weight_kg)) + BACK_KG) return false;
  const sessions = earlier.filter((one) => one.tags?.includes('dialysis')).map((one) => one.date).sort();
  const kinds = dialysis ? [later, report].map((one) => afterSession(one, sessions)) : [];
  return kinds.includes(null) || kinds[0] === kinds[1];
}

/** Days from the last session; a morning's weight on the day of one is from before it. */
function afterSession(one, sessions) {
  const morning = (one.moment ?? 'putting_on') === 'putting_on';
  const last = sessions.filter((day) => day < one.date || (day === one.date && !morning)).at(-1);
  const gone = last === undefined ? Infinity : days(last, one.date);
  return gone <= SESSION_DAYS ? gone : null;
}
