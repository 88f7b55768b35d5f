/** Writing a check-in: every key of the form, and the save. */

import { checkinOf, courses, missing, MOST_SOCKS, newDraft, STEPS, tapFinding, toggled, withCourse } from '../checkin.js';
import { askedAfter } from '../../shared/healing.js';
import { PAUSE, takenBack } from '../begun.js';
import { isFix, keyOf, mustAskDay, todays } from '../drafts.js';
import { faultsOf, readNumber } from '../faults.js';
import { uuid7 } from '../ids.js';
import { MOST_PHOTOS, smallJpeg } from '../photo.js';
import { counted } from '../outbox.js';
import { fresh } from '../rows.js';
import { toKg, usualUnit } from '../weight.js';
import { localDate, momentAt } from '../when.js';
import { say } from '../words.js';
import { photoTaken } from './photo-asked.js';

const FAILURES = { QuotaExceededError: 'saved.failed.full', VersionError: 'saved.failed.newer' };

const unitOf = (app) => app.settings.unit ?? usualUnit(navigator.language);

const without = (drafts, draft) => drafts.filter((one) => keyOf(one) !== keyOf(draft));

function keep(app) {
  app.drafts = [...without(app.drafts, app.draft), app.draft];
  app.diary.putDraft(app.draft).catch(() => {});
  clearTimeout(app.pausing);
  app.pausing = setTimeout(() => app.leave().catch(() => {}), PAUSE);
}

/** Change the draft, keep it on the phone, show it. */
function change(app, fields, { paint = true, params } = {}) {
  Object.assign(app.draft, fields, { touched: true });
  keep(app);
  if (params) app.params = params;
  if (paint) app.paint();
}

function step(app, name) {
  app.draft.step = name;
  if (app.draft.touched) keep(app); // to have looked is not to have begun
  app.go('form', { step: name });
}

/** The next question; with the first four answered, the look at it all. */
function next(app) {
  const { draft } = app;
  if (isFix(draft) || draft.visited) return step(app, 'review');
  const following = STEPS[STEPS.indexOf(draft.step) + 1] ?? 'review';
  if (following === 'review') draft.visited = true;
  return step(app, following);
}

function complain(app, error) {
  app.params = { ...app.params, error };
  app.paint();
  window.scrollTo(0, 0);
}

/** An answer, and the place it is about: a place that came from elsewhere may have spaces. */
const worded = (said) => [said.split(' ', 1)[0], said.slice(said.indexOf(' ') + 1)];

/** Redness has to say how long it lasted: that question is brought to where the eye is. */
function howLong(app) {
  complain(app, say('skin.error.minutes'));
  document.querySelector('.how-long')?.scrollIntoView({ block: 'center' });
}

/** Unfold, and bring to where the eye is, the place in which a field is answered. */
export function showField(field) {
  const place = document.getElementById(PLACES[field] ?? field);
  if (!place) return;
  for (let fold = place.closest('details'); fold; fold = fold.parentElement?.closest('details')) fold.open = true;
  place.scrollIntoView({ block: 'center' });
  (place.matches('input, textarea') ? place : place.querySelector('button, input') ?? place).focus({ preventScroll: true });
}

const PLACES = { time: 'date', moment: 'when', activity: 'at-activity', falls: 'at-falls', pain: 'at-pain', tags: 'at-tags' };

export const days = {
  'day.open'(app, limb) {
    app.limbId = limb;
    const now = app.now();
    app.draft = todays(app.drafts, limb, localDate(now)) ?? newDraft(limb, now);
    app.go('form', { step: app.draft.step });
  },

  /** An entry that was begun before: the key that leads here has named its day. */
  'draft.open'(app, key) {
    const draft = app.drafts.find((one) => keyOf(one) === key);
    if (!draft) return;
    app.limbId = draft.limb_id;
    app.draft = { ...draft, day_said_on: localDate(app.now()) };
    app.go('form', { step: app.draft.step });
  },

  'draft.ask'(app, key) {
    app.params = { throwing: key };
    app.paint();
    document.getElementById('throw-no')?.focus();
  },

  'draft.keep'(app) {
    app.params = {};
    app.paint();
  },

  async 'draft.throw'(app, key) {
    const draft = app.drafts.find((one) => keyOf(one) === key);
    app.params = {};
    if (draft) {
      await app.diary.dropDraft(draft);
      const told = (app.begun ?? []).find((row) => row.id === draft.id);
      const back = takenBack(told, app.now());
      if (back) await app.diary.putBegun(back);
      else if (told) await app.diary.dropBegun(draft.id);
      app.begun = (app.begun ?? []).filter((row) => row !== told);
      if (back) app.sync.pass();
      app.drafts = without(app.drafts, draft);
    }
    app.paint();
    app.tellTabs();
  },

  /** The day has turned while this was open: the wearer has said which day it is for. */
  'day.is'(app, date) {
    const now = app.now();
    const moved = date === app.draft.date ? {} : { date, moment: momentAt(now), time: null };
    change(app, { ...moved, day_said_on: localDate(now) }, { paint: false });
    app.arrive();
  },

  /** A second tap on the same sock, too soon to be meant or not meant: the wearer says which. */
  'day.twice'(app, _, key) {
    app.params = { twice: { ply: Number(key.dataset.ply), make: key.dataset.make } };
    app.paint();
    document.getElementById('twice')?.scrollIntoView({ block: 'nearest' });
  },
  'day.once'(app) {
    app.params = {};
    app.paint();
  },

  'day.back': (app) => app.back(),
  'day.step': (app, name) => step(app, name),
  'day.field': (_, field) => showField(field),

  'day.same'(app) {
    const rows = app.standing(app.draft.limb_id);
    const last = rows.find((row) => row.checkin.date <= app.draft.date && row.state !== 'refused');
    change(app, { stack: last.checkin.stack, bare: !last.checkin.stack.length, prefilled: true }, { paint: false });
    next(app);
  },

  'day.sock'(app, _, key) {
    const { stack } = app.draft;
    if (stack.length >= MOST_SOCKS) return complain(app, say('socks.error.many'));
    const sock = { ply: Number(key.dataset.ply), make: key.dataset.make };
    return change(app, { stack: [...stack, sock], bare: false, prefilled: false }, { params: {} });
  },

  'day.off'(app, index) {
    change(app, { stack: app.draft.stack.filter((_, i) => i !== Number(index)), prefilled: false });
  },

  'day.bare': (app) => change(app, { bare: !app.draft.bare, stack: [], prefilled: false }, { params: {} }),

  'day.pick_ply'(app, ply) {
    app.params = { pick: { make: 'unknown', ...app.params.pick, ply: Number(ply) } };
    app.paint();
  },

  'day.pick_make'(app, make) {
    app.params = { pick: { ply: null, ...app.params.pick, make } };
    app.paint();
  },

  'day.add'(app) {
    const { ply, make } = app.params.pick ?? {};
    if (ply === undefined || ply === null) return complain(app, say('socks.error.pick'));
    if (app.draft.stack.length >= MOST_SOCKS) return complain(app, say('socks.error.many'));
    change(app, { stack: [...app.draft.stack, { ply, make: make ?? 'unknown' }], bare: false, prefilled: false }, { params: {} });
    document.getElementById('another').open = false;
    window.scrollTo(0, 0);
    return undefined;
  },

  'day.fit'(app, fit) {
    const same = app.draft.fit === fit;
    change(app, { fit: same ? null : fit }, { paint: fit !== 'good' || same });
    if (fit === 'good' && !same) next(app);
  },

  /** No sign of danger, or those that were tapped: asked and answered. The same socks may be said with the same tap. */
  'day.danger'(app, socks) {
    const { draft } = app;
    const begun = draft.step !== 'danger'; // the draft had got further before an app that asks this
    change(app, { danger: 'asked', step: socks === 'same' ? 'socks' : draft.step }, { paint: false });
    if (socks === 'same') days['day.same'](app);
    else if (begun) step(app, draft.step);
    else next(app);
  },

  'day.left_off': (app, said) => change(app, { left_off: app.draft.left_off === said ? null : said }),
  'day.sign': (app, sign) => change(app, { signs: toggled(app.draft.signs, sign) }),

  'day.comfort'(app, n) {
    change(app, { comfort: Number(n) }, { paint: false });
    next(app);
  },

  /** Beside a place that is there still, “all fine” and “not looked” are of the rest of the skin. */
  'day.skin'(app, skin) {
    if (skin !== 'found' && courses(app.draft).some((one) => one.course !== 'gone')) return days['day.next'](app);
    const findings = skin === 'found' ? app.draft.findings : [];
    change(app, { skin, findings, place: null }, { paint: skin === 'found' });
    return skin !== 'found' && next(app);
  },

  'day.course'(app, said) {
    const [course, place] = worded(said);
    const { draft } = app;
    const thread = askedAfter(app.standing(draft.limb_id).map((row) => row.checkin), draft.date).find((one) => one.place === place);
    change(app, withCourse(draft, place, course, thread?.found ?? []), { params: {} });
  },

  'day.place'(app, place) {
    const { draft } = app;
    const opened = draft.place === place && !draft.findings.some((one) => one.place === place);
    change(app, { place: opened ? null : place }, { params: {} }); // a tap on an open place without a finding closes it
    document.getElementById('what')?.scrollIntoView({ block: 'start' });
  },

  'day.finding'(app, finding) {
    const { findings } = tapFinding(app.draft, app.draft.place, finding);
    change(app, { findings });
  },

  'day.minutes'(app, said) {
    const [minutes, place] = worded(said);
    const at = (one) => one.place === place && one.finding === 'redness';
    const unknown = minutes === 'unknown';
    const answer = { redness_minutes: unknown ? null : Number(minutes), unknown };
    const findings = app.draft.findings.map((one) => (at(one) ? { ...one, ...answer } : one));
    change(app, { findings }, { params: {} });
  },

  async 'day.photo'(app, _, input) {
    const [file] = input.files;
    const { draft } = app;
    if (!file || draft.photos.length >= MOST_PHOTOS) return;
    try {
      const photo = { id: uuid7(), limb_id: draft.limb_id, checkin_id: null, bytes: await smallJpeg(file), state: 'draft' };
      await app.diary.putPhoto(photo);
      app.pictures[photo.id] = URL.createObjectURL(new Blob([photo.bytes], { type: 'image/jpeg' }));
      change(app, { photos: [...draft.photos, photo.id] });
    } catch (error) {
      console.error(error);
      complain(app, say(FAILURES[error?.name] ?? 'photo.failed'));
    }
  },

  async 'day.unphoto'(app, id) {
    change(app, { photos: app.draft.photos.filter((one) => one !== id) });
    await app.diary.dropUnsaved(id); // one that was saved before is in that entry still
  },

  'day.date': (app, date) => change(app, { date, time: null, day_said_on: localDate(app.now()) }),
  'day.moment': (app, moment) => change(app, { moment }),
  'day.activity': (app, activity) => change(app, { activity: app.draft.activity === activity ? null : activity }),
  'day.falls': (app, falls) => change(app, { falls: app.draft.falls === Number(falls) ? null : Number(falls) }),
  'day.pain': (app, pain) => change(app, { pain: app.draft.pain === Number(pain) ? null : Number(pain) }),
  'day.tag': (app, tag) => change(app, { tags: toggled(app.draft.tags, tag) }),

  /** The number typed stays as it is; it was meant in the unit now chosen. */
  async 'day.unit'(app, unit) {
    const typed = document.getElementById('weight_kg').value;
    app.settings = { ...app.settings, unit };
    change(app, { weight_kg: toKg(readNumber(typed), unit) });
    await app.diary.putSmall('settings', app.settings).catch(() => {});
  },

  'day.typed'(app, _, input) {
    const { field } = input.dataset;
    if (field === 'date') {
      if (input.value) change(app, { date: input.value, time: null, day_said_on: localDate(app.now()) }, { paint: false });
    } else if (field === 'weight_kg') {
      change(app, { weight_kg: toKg(readNumber(input.value), unitOf(app)) }, { paint: false });
    } else if (field === 'note') change(app, { note: input.value }, { paint: false });
    else change(app, { [field]: readNumber(input.value) }, { paint: false });
  },

  'day.next'(app) {
    const { draft } = app;
    const gap = missing(draft);
    if (draft.step === 'socks' && gap.includes('socks')) return complain(app, say('socks.error'));
    if (draft.step === 'comfort' && gap.includes('comfort')) return complain(app, say('comfort.error'));
    if (draft.step === 'skin' && gap.includes('skin')) return howLong(app);
    return next(app);
  },

  /** `onward`: the other limb, if the save was to lead there. */
  async 'day.save'(app, onward) {
    const { draft } = app;
    if (app.saving) return;
    if (mustAskDay(draft, app.now())) {
      app.arrive();
      return;
    }
    if (missing(draft).length) {
      const [gap] = missing(draft);
      step(app, gap);
      if (gap === 'skin') howLong(app);
      else complain(app, say('review.error'));
      return;
    }
    const { account } = app.person();
    const checkin = checkinOf(draft, { id: draft.id ?? uuid7(), now: app.now(), device_id: account.device_id });
    const [fault] = faultsOf(checkin, { now: app.now(), amputated_on: app.limb()?.amputated_on });
    if (fault) {
      complain(app, say('review.fault'));
      showField(fault.field);
      return;
    }
    app.saving = true;
    draft.id = checkin.id; // a second try after a failed save is the same entry
    try {
      const taken = draft.photos.length ? await app.diary.photos() : [];
      const own = taken.filter((photo) => photo.state === 'draft' && draft.photos.includes(photo.id));
      const photos = own.map((photo) => ({ ...photo, checkin_id: checkin.id, state: 'waiting' }));
      await app.diary.save(fresh(checkin, account.device_id), { mends: draft.mends, draft: keyOf(draft), photos });
    } catch (error) {
      if (error?.name === 'VersionError') app.flags.add('update');
      complain(app, say(FAILURES[error?.name] ?? 'saved.failed'));
      return;
    } finally {
      app.saving = false;
    }
    if (draft.photos.length) await photoTaken(app, checkin).catch(console.error);
    app.draft = null;
    app.drafts = without(app.drafts, draft);
    app.entryId = checkin.id;
    // What was just committed is shown at once; the store is read again behind it.
    app.rows[checkin.limb_id] = [...(app.rows[checkin.limb_id] ?? []), fresh(checkin, account.device_id)];
    app.outbox = counted(Object.values(app.rows).flat(), app.accounts);
    app.go('saved', { replace: true });
    if (onward) {
      days['day.open'](app, onward);
      app.toast(say('state.waiting'));
    }
    await app.load();
    app.tellTabs();
    app.sync.pass();
    askToPersist(app);
  },
};

/** Asked after the first save: then the browser has a reason to say yes. */
async function askToPersist(app) {
  if (app.settings.persisted !== undefined || !navigator.storage?.persist) return;
  const persisted = await navigator.storage.persist().catch(() => false);
  app.settings = { ...app.settings, persisted };
  await app.diary.putSmall('settings', app.settings);
}

