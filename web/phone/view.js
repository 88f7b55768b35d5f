/** State → what the screens show. Pure but for the day it is told. */

import { evaluate, weightBack } from '../shared/safety.js';
import { checkinOf, drawerOf, lastStack } from './checkin.js';
import { mustAskDay } from './drafts.js';
import { faultsOf } from './faults.js';
import { ageOn, localDate } from './when.js';
import { photosAsked, talkOf } from './messages.js';
import { canPush } from './reminding.js';
import { standing } from './rows.js';
import { latestAnswers, standingAdvice } from './standing-advice.js';
import { usualUnit } from './weight.js';
import { dayWords } from './ui/phrases.js';
import { list, say } from './words.js';

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
  const advice = said && app.rules ? evaluate(app.rules, said, about(person, clinic, rows, entry, weighedBeside(person, limb, rowsOf))) : [];
  const adviceKey = advice.map((one) => one.id).join(' ');
  const people = app.people();
  const danger = app.rules?.danger_signs ?? [];
  return {
    ...app, ...(['home', 'saved', 'pocket'].includes(app.screen) ? standingOf(app, people, today) : {}), danger, adviceKey, adviceIsNew: adviceKey !== app.shownAdvice, people, now, today, person, role: person?.account.role, rowsOf, drawer, own, clinic, entry, draft,
    limb: limb && { ...limb, careful: careful(person) }, careful: careful(person),
    child: isChild(person, today),
    words: (key) => ofChild(key, person, today),
    last: draft ? lastStack(rows, draft.date) : null,
    unit: app.settings.unit ?? usualUnit(navigator.language),
    keeps: app.diary.keeps, canPush: canPush(),
    advice,
    stoodBefore: app.screen === 'form' && draft?.step === 'skin' ? stands(app, person, limb, rowsOf, rows.filter((row) => row.checkin.date < draft.date)) : [],
    said,
    faults: app.screen === 'form' && draft ? faultsOf(said, { now, amputated_on: limb?.amputated_on }) : [],
    told: Object.fromEntries((app.begun ?? []).filter((row) => !row.over).map((row) => [row.id, row])),
    askDay: Boolean(draft) && mustAskDay(draft, now),
    unlinked: Boolean(person?.account.unlinked),
    whole: holdsAll(person),
    visits: person?.account.visits ?? person?.account.next_visits ?? [],
    seen: person?.account.seen ?? {},
    photoAsked: Boolean(limb) && photosAsked(talkOf(person.account, person), limb.id).length > 0,
    anyRows: rows.length > 0,
    helps: Boolean(person) && app.screen !== 'help',
    ios: isIos(), iosTab: isIos() && !navigator.standalone,
    notices: app.screen === 'form' ? updateNotice(app) : [...updateNotice(app), ...notices(app, person, clinic)],
  };
}

/** Whether this phone holds all that was written: it was fetched once, and nothing is withheld from it. */
const holdsAll = (person) => Boolean(person?.account.cursor) && !person.withheld;

/** By limb: the advice that still stands, and answers of the clinic that no card shows. Of everybody on this phone. */
function standingOf(app, people, today) {
  const found = { standing: {}, answers: {} };
  for (const person of people) {
    const rowsOf = Object.fromEntries(person.limbs.map((one) => [one.id, standing(app.rows[one.id] ?? [])]));
    for (const limb of person.limbs) {
      found.standing[limb.id] = stands(app, person, limb, rowsOf, [...begun(app, limb.id), ...rowsOf[limb.id]]);
      found.answers[limb.id] = latestAnswers(seenOf(person, limb), found.standing[limb.id], today);
    }
  }
  return found;
}

const seenOf = (person, limb) => person.account.seen?.[limb.id]?.advice ?? [];

/** The advice that stands by these rows of a limb. */
function stands(app, person, limb, rowsOf, rows) {
  const context = about(person, person.account.clinic, rowsOf[limb.id], null, weighedBeside(person, limb, rowsOf));
  const advise = (row) => (app.rules ? evaluate(app.rules, row.checkin, context) : []);
  return standingAdvice(rows, { advise, seen: seenOf(person, limb), danger: app.rules?.danger_signs, back: backOf(person, context) });
}

/** Only somebody with heart failure is told of a fast gain. */
const backOf = (person, context) => ([person, ...(person.profile_before ?? [])].some((one) => one.tags?.includes('heart_failure'))
  ? (row) => context.earlier.some((later) => later.date > row.checkin.date && weightBack(later, row.checkin, context)) : null);

/** An entry that was begun and says something dangerous is not saved yet, but its advice holds. */
const begun = (app, limb_id) =>
  Object.values(app.drafts).filter((draft) => draft?.limb_id === limb_id)
    .map((draft) => ({ id: 'draft', state: 'draft', checkin: { ...checkinOf(draft, { id: 'draft', now: app.now(), device_id: null }), skin_checked: false } }));

/** What the rules need to know besides the check-in itself. */
export const about = (person, clinic, rows, entry, beside = []) => ({
  tags: person?.tags ?? [], born_on: person?.born_on, redness_minutes: clinic?.redness_minutes, before: person?.profile_before ?? [],
  earlier: [...rows.filter((row) => row.id !== entry?.id).map((row) => row.checkin), ...beside],
});

/** A person has one weight, whichever limb it was written down with: of the other limbs' entries, nothing but that. */
export const weighedBeside = (person, limb, rowsOf) =>
  (person?.limbs ?? []).filter((one) => one.id !== limb?.id).flatMap((one) => rowsOf[one.id] ?? [])
    .filter((row) => typeof row.checkin.weight_kg === 'number').map(({ checkin: { date, weight_kg } }) => ({ date, weight_kg }));

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
  if (app.lost?.length) found.push({ text: say('store.lost', { days: list(app.lost.map((day) => dayWords(day, localDate(app.now())))) }), verb: 'lost.seen', key: say('store.lost_key'), kind: 'bad' });
  if (app.flags.has('fetched')) found.push({ text: say('store.fetched') });
  if (app.flags.has('restored')) found.push({ text: say('restored') });
  if (!app.diary.keeps) found.push({ text: say('store.none') });
  if (person?.account.unlinked && app.screen !== 'saved') found.push({ text: say('link.gone', { clinic: clinic?.name ?? '' }), verb: 'enrol.more', key: say('link.key'), kind: 'bad' });
  if (Math.abs(person?.account.skew ?? 0) > CLOCK_OFF) found.push({ text: say('clock.wrong'), kind: 'bad' });
  return found;
}
