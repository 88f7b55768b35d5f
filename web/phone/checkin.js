/** One check-in while it is being written: a draft, and what it becomes. Pure; knows no page and no storage. */

import { EMPTY } from '../shared/checkin-fields.js';
import { localDate, localTime, momentAt, offsetText, zoneName } from './when.js';

export const STEPS = ['danger', 'socks', 'fit', 'comfort', 'skin', 'review'];
export const MOST_SOCKS = 12;

/** Every item as it is held here, or as it is when nobody says it: an item without a place below goes through as it came. */
const items = (held) => Object.fromEntries(Object.keys(EMPTY).map((name) => [name, structuredClone(held[name] ?? EMPTY[name])]));

export function newDraft(limb_id, now) {
  return {
    ...items({}),
    limb_id, date: localDate(now), moment: momentAt(now), step: 'danger', opened_at: now.toISOString(), day_said_on: localDate(now),
    bare: false, stack: [], comfort: null, danger: null, skin: null, findings: [], place: null, note: '', mends: null, touched: false,
  };
}

/** A draft kept by an older version has said nothing of what is asked since. */
export const wholeDraft = (draft) => ({ ...items({}), ...draft });

/** A draft to correct an entry with: it starts as the entry was. */
export function draftOf(row, now) {
  const said = row.checkin;
  const found = (said.skin ?? []).filter((one) => one.place !== NOT_SAID).map((one) => (one.redness_minutes === null ? { ...one, unknown: true } : one));
  const refused = row.state === 'refused';
  return {
    ...newDraft(said.limb_id, now),
    ...items(said),
    date: said.date, step: 'review', stack: said.stack, bare: !said.stack.length, comfort: said.comfort,
    danger: said.signs_checked ? 'asked' : null,
    skin: said.skin?.length ? 'found' : said.skin_checked ? 'fine' : 'not_looked',
    findings: found, note: said.note ?? '',
    ...(refused && !row.errors?.id ? { id: row.id } : {}), // mended it is the same entry: the clinic may know of its danger
    // What was refused was never kept, so there is nothing there to replace but what it wanted to replace.
    replaces: refused ? said.replaces ?? null : row.id, mends: refused ? row.id : null,
  };
}

export const FIT_SIGNS = ['slips_up_and_down', 'sinks_to_bottom', 'cannot_get_fully_in', 'fewer_clicks', 'more_clicks'];
export const CHILD_SIGNS = ['bony_point', 'stretched_skin'];
// What a look at the skin may show; asked again there, since the first question came before the look.
export const SKIN_SIGNS = [
  'bleeding_not_stopping', 'fast_spreading_redness', 'cold_pale_limb', 'swollen_warm_painful', 'new_numbness',
  'severe_pain', 'wound_edge_opening', 'rash_spreads_or_blisters', 'hotter_than_other_side', 'sock_stuck',
];

/** The question that is shown: the signs of danger come first, whatever a draft had got to before they were asked. */
export function shownStep(draft, danger) {
  const due = !draft.danger && !draft.replaces && !draft.mends;
  if (danger.length) return due ? 'danger' : draft.step;
  return draft.step === 'danger' ? 'socks' : draft.step;
}

/** What was found, as it is kept: a place without a finding, or nothing but "I found something", is a finding too. */
export function skinSaid(draft) {
  if (draft.skin !== 'found') return [];
  const here = draft.place && !draft.findings.some((one) => one.place === draft.place);
  const found = draft.findings.map(({ place, finding, redness_minutes }) => ({ place, finding, redness_minutes }));
  if (here || !found.length) found.push({ place: here ? draft.place : NOT_SAID, finding: 'other', redness_minutes: null });
  return found;
}

const NOT_SAID = 'not_said';

/** Redness of which nobody has said yet how long it lasted, nor that it is not known. */
export const unasked = (draft) =>
  draft.skin === 'found' ? draft.findings.filter((one) => one.finding === 'redness' && one.redness_minutes === null && !one.unknown) : [];

/** How places found before are now, as far as the rest of the entry says the same: gone, or found again. */
export function courses(draft) {
  const here = new Set(skinSaid(draft).map(({ place }) => place));
  return draft.healing.filter(({ place, course }) => here.has(place) !== (course === 'gone'));
}

/** A course tapped: what was found last at the place is carried on; gone, or tapped again, it is not. */
export function withCourse(draft, place, course, found) {
  const again = draft.healing.some((one) => one.place === place && one.course === course);
  const carried = (one) => one.place === place && found.some(({ finding }) => finding === one.finding);
  const rest = draft.healing.filter((one) => one.place !== place);
  if (again || course === 'gone') {
    const findings = draft.findings.filter((one) => !carried(one));
    return { healing: again ? rest : [...rest, { place, course }], findings, place: null, skin: findings.length || draft.skin !== 'found' ? draft.skin : null };
  }
  const kinds = [...new Set(found.map(({ finding }) => finding))].filter((finding) => !draft.findings.some((one) => one.place === place && one.finding === finding));
  return {
    healing: [...rest, { place, course }], skin: 'found', place,
    findings: [...draft.findings, ...kinds.map((finding) => ({ place, finding, redness_minutes: null }))],
  };
}

/** The steps that still need an answer: socks and comfort must have one, and redness how long it lasted. */
export function missing(draft) {
  const gaps = [];
  if (!draft.stack.length && !draft.bare) gaps.push('socks');
  if (draft.comfort === null) gaps.push('comfort');
  if (unasked(draft).length) gaps.push('skin');
  return gaps;
}

/** The check-in itself. `id` was made on the phone; time and offset are the wearer's clock. */
export function checkinOf(draft, { id, now, device_id }) {
  const today = localDate(now) === draft.date;
  const looked = draft.skin === 'fine' || draft.skin === 'found';
  return {
    ...items(draft),
    id, limb_id: draft.limb_id, date: draft.date,
    time: draft.time ?? (today ? localTime(now) : null), offset: draft.offset ?? offsetText(now), zone: draft.zone ?? zoneName(),
    stack: draft.stack.map(({ ply, make }) => ({ ply, make })), comfort: draft.comfort,
    signs_checked: Boolean(draft.danger), skin: skinSaid(draft), skin_checked: looked, healing: courses(draft), note: draft.note.trim() || null,
    withdrawn: false, written_at: now.toISOString(), written_by: device_id,
  };
}

/** The correction that takes an entry back: the same words, marked as withdrawn. */
export function withdrawalOf(row, { id, now, device_id }) {
  return { ...row.checkin, id, replaces: row.id, withdrawn: true, written_at: now.toISOString(), written_by: device_id };
}

const sameSock = (a, b) => a.ply === b.ply && a.make === b.make;

/** The socks a wearer owns: those set up by hand first, then any met in the log, most used first. */
export function drawerOf(own, rows) {
  const met = new Map();
  for (const row of rows) {
    for (const sock of row.checkin.stack) {
      const key = `${sock.ply} ${sock.make}`;
      met.set(key, { ply: sock.ply, make: sock.make ?? 'unknown', times: (met.get(key)?.times ?? 0) + 1 });
    }
  }
  const often = [...met.values()].sort((a, b) => b.times - a.times || a.ply - b.ply);
  return [...own, ...often.filter((sock) => !own.some((one) => sameSock(one, sock))).map(({ ply, make }) => ({ ply, make }))].slice(0, 8);
}

/** The latest stack said for this limb, for "the same socks again". */
export function lastStack(standing, before) {
  return standing.find((row) => row.checkin.date <= before && row.state !== 'refused') ?? null;
}

export function tapFinding(draft, place, finding) {
  const there = draft.findings.some((one) => one.place === place && one.finding === finding);
  const findings = there
    ? draft.findings.filter((one) => one.place !== place || one.finding !== finding)
    : [...draft.findings, { place, finding, redness_minutes: null }];
  return { ...draft, findings };
}

export const toggled = (list, item) => (list.includes(item) ? list.filter((one) => one !== item) : [...list, item]);
