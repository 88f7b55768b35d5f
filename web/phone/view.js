/** State → what the screens show. Pure but for the day it is told. */

import { evaluate } from '../shared/safety.js';
import { checkinOf, drawerOf, lastStack } from './checkin.js';
import { ageOn, localDate } from './when.js';
import { canPush } from './reminding.js';
import { standing } from './rows.js';
import { usualUnit } from './weight.js';
import { say } from './words.js';

const CAREFUL = ['reduced_sensation', 'diabetes', 'vascular'];
const CLOCK_OFF = 600; // seconds, as the server marks it

export function viewOf(app) {
  const now = app.now();
  const today = localDate(now);
  const person = app.person();
  const limb = app.limb();
  const rowsOf = Object.fromEntries((person?.limbs ?? []).map((one) => [one.id, standing(app.rows[one.id] ?? [])]));
  const own = limb ? app.drawers[limb.id] ?? [] : [];
  const rows = limb ? rowsOf[limb.id] : [];
  const drawer = drawerOf(own, [...rows, ...(app.draft ? [{ checkin: app.draft }] : []), ...atFitting(limb)]);
  const clinic = person?.account.clinic ?? app.joining?.clinic ?? null;
  const entry = app.entryId ? Object.values(rowsOf).flat().find((row) => row.id === app.entryId) ?? findRow(app, app.entryId) : null;
  const draft = app.draft;
  const said = app.screen === 'form' && draft ? checkinOf(draft, { id: 'draft', now, device_id: null }) : entry?.checkin;
  const advice = said && app.rules ? evaluate(app.rules, said, about(person, clinic, rows, entry)) : [];
  const adviceKey = advice.map((one) => one.id).join(' ');
  return {
    ...app, adviceKey, adviceIsNew: adviceKey !== app.shownAdvice, people: app.people(), now, today, person, role: person?.account.role, rowsOf, drawer, own, clinic, entry, draft,
    limb: limb && { ...limb, careful: careful(person) }, careful: careful(person),
    child: isChild(person, today),
    words: (key) => ofChild(key, person, today),
    last: draft ? lastStack(rows, draft.date) : null,
    unit: app.settings.unit ?? usualUnit(navigator.language),
    keeps: app.diary.keeps, canPush: canPush(),
    advice,
    visits: person?.account.next_visits ?? [],
    seen: person?.account.seen ?? {},
    anyRows: rows.length > 0,
    helps: Boolean(person) && app.screen !== 'help',
    ios: isIos(), iosTab: isIos() && !navigator.standalone,
    notices: app.screen === 'form' ? updateNotice(app) : [...updateNotice(app), ...notices(app, person, clinic)],
  };
}

/** What the rules need to know besides the check-in itself. */
const about = (person, clinic, rows, entry) => ({
  tags: person?.tags ?? [], born_on: person?.born_on, redness_minutes: clinic?.redness_minutes,
  earlier: rows.filter((row) => row.id !== entry?.id).map((row) => row.checkin),
});

const careful = (person) => CAREFUL.some((tag) => person?.tags?.includes(tag));

const isChild = (person, today) => (ageOn(person?.born_on, today) ?? 99) < 13;

/** A question about a child is asked of whoever holds the phone: the caregiver about the child, or the child. */
function ofChild(key, person, today) {
  if (!isChild(person, today)) return say(key);
  return person.account.role === 'caregiver' ? say(`${key}.of_child`, { name: person.name.split(' ')[0] }) : say(`${key}.child`);
}

/** The socks the clinic fitted with: so that the first day is a tap too. */
const atFitting = (limb) =>
  (limb?.sockets ?? []).filter((socket) => !socket.retired_on).map((socket) => ({ checkin: { stack: socket.stack_at_fitting ?? [] } }));

const findRow = (app, id) => Object.values(app.rows).flat().find((row) => row.id === id) ?? null;

const isIos = () => /iPhone|iPad|iPod/.test(navigator.userAgent);

const updateNotice = (app) => (app.flags.has('update') ? [{ text: say('update.ready'), verb: 'update', key: say('update.key') }] : []);

function notices(app, person, clinic) {
  const found = [];
  if (app.flags.has('blocked')) found.push({ text: say('store.blocked') });
  if (app.flags.has('cleared')) found.push({ text: say('store.cleared') });
  if (app.flags.has('fetched')) found.push({ text: say('store.fetched') });
  if (app.flags.has('restored')) found.push({ text: say('restored') });
  if (!app.diary.keeps) found.push({ text: say('store.none') });
  if (person?.account.unlinked) found.push({ text: say('link.gone', { clinic: clinic?.name ?? '' }), verb: 'enrol.more', key: say('link.key'), kind: 'bad' });
  if (Math.abs(person?.account.skew ?? 0) > CLOCK_OFF) found.push({ text: say('clock.wrong'), kind: 'bad' });
  return found;
}
