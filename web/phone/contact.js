/** Whom a wearer can reach now: the clinic's hours in the clinic's own zone, and the way out when it is closed. Pure. */

import { plusDays } from './when.js';

const AHEAD = 14; // days looked ahead for the next opening; judgement: longer than any holiday a clinic would not write down

/** What an older server says is enough for the old keys: no hours means that nothing is said about being open. */
export const contactOf = (clinic) => ({
  phone: clinic?.phone ?? null, emergency_number: clinic?.emergency_number ?? null, ...known(clinic?.contact),
});

const known = (fields) => Object.fromEntries(Object.entries(fields ?? {}).filter(([, value]) => value !== null && value !== undefined && value !== ''));

/** The calendar day, its weekday (1 is Monday) and the time a clock at the clinic shows. */
function clockAt(zone, now) {
  const parts = (timeZone) => new Intl.DateTimeFormat('en-CA', {
    timeZone, calendar: 'gregory', numberingSystem: 'latn', year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', hourCycle: 'h23',
  }).formatToParts(now);
  let found;
  try {
    found = parts(zone ?? undefined);
  } catch {
    found = parts(undefined); // a zone this phone does not know: its own clock is the best there is
  }
  const { year, month, day, hour, minute } = Object.fromEntries(found.map(({ type, value }) => [type, value]));
  return { date: `${year}-${month}-${day}`, time: `${hour}:${minute}` };
}

const weekday = (date) => ((new Date(`${date}T12:00Z`).getUTCDay() + 6) % 7) + 1;

/** "unknown" where the clinic said no hours; else "open", or "closed" with the day and time it opens, as the clinic's clock has it. */
export function openingAt(contact, now) {
  const hours = (contact.hours ?? []).filter((span) => span?.days?.length && span.from < span.to);
  if (!hours.length) return { state: 'unknown' };
  const clock = clockAt(contact.zone, now);
  const elsewhere = clock.time !== clockAt(null, now).time;
  const spansOn = (date) => (contact.closed_on?.includes(date) ? [] : hours.filter((span) => span.days.includes(weekday(date))));
  if (spansOn(clock.date).some((span) => span.from <= clock.time && clock.time < span.to)) return { state: 'open' };
  for (let ahead = 0; ahead <= AHEAD; ahead += 1) {
    const date = plusDays(clock.date, ahead);
    const [first] = spansOn(date).map((span) => span.from).filter((from) => ahead > 0 || from > clock.time).sort();
    if (first) return { state: 'closed', opens: { date, time: first, ahead }, elsewhere };
  }
  return { state: 'closed', opens: null, elsewhere };
}

const digits = (number) => String(number).replace(/[^\d+*#]/g, '');

/** Whom to call for advice of these levels, most urgent first: `keys` of which no two dial the same number, and what to `say`. */
export function waysFor(levels, { contact, contacts = {}, now }) {
  const keys = [];
  const says = [];
  const add = (kind, number, urgent = false) => {
    if (number && !keys.some((key) => digits(key.number) === digits(number))) keys.push({ kind, number, digits: digits(number), urgent });
    return Boolean(number);
  };
  const note = (what) => says.some((one) => one.what === what) || says.push({ what });
  const emergency = () => add('emergency', contact.emergency_number ?? '112', true);
  const clinic = () => {
    const opening = openingAt(contact, now);
    if (opening.state !== 'closed') return add('clinic', contact.phone) || add('out_of_hours', contact.out_of_hours_phone) || note('no_clinic');
    says.push({ what: 'closed', opening });
    if (add('out_of_hours', contact.out_of_hours_phone)) return true;
    note('worse');
    return emergency();
  };
  for (const level of levels) {
    if (level === 'emergency') emergency();
    else if (level === 'heart_team') add('heart_team', contacts.heart_team_phone) || note('no_heart_team');
    else if (level === 'kidney_team') add('kidney_team', contacts.kidney_team_phone);
    else if (!says.some((one) => one.what === 'closed')) clinic();
  }
  return { keys, says };
}
