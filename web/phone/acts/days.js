/** Writing a check-in: every key of the form, and the save. */

import { checkinOf, missing, MOST_SOCKS, newDraft, STEPS, tapFinding, toggled } from '../checkin.js';
import { uuid7 } from '../ids.js';
import { MOST_PHOTOS, smallJpeg } from '../photo.js';
import { fresh } from '../rows.js';
import { toKg, usualUnit } from '../weight.js';
import { say } from '../words.js';

const FAILURES = { QuotaExceededError: 'saved.failed.full', VersionError: 'saved.failed.newer' };

const unitOf = (app) => app.settings.unit ?? usualUnit(navigator.language);

const draftKey = (draft) => `draft:${draft.limb_id}`;

/** Change the draft, keep it on the phone, show it. A correction is not kept as a draft: its original is. */
function change(app, fields, { paint = true, params } = {}) {
  Object.assign(app.draft, fields, { touched: true });
  if (!app.draft.replaces && !app.draft.mends) {
    app.drafts[app.draft.limb_id] = app.draft;
    app.diary.putSmall(draftKey(app.draft), app.draft).catch(() => {});
  }
  if (params) app.params = params;
  if (paint) app.paint();
}

function step(app, name) {
  change(app, { step: name }, { paint: false });
  app.go('form', { step: name });
}

/** The next question; with the first four answered, the look at it all. */
function next(app) {
  const { draft } = app;
  if (draft.replaces || draft.mends || draft.visited) return step(app, 'review');
  const following = STEPS[STEPS.indexOf(draft.step) + 1] ?? 'review';
  if (following === 'review') draft.visited = true;
  return step(app, following);
}

function complain(app, error) {
  app.params = { ...app.params, error };
  app.paint();
  window.scrollTo(0, 0);
}

export const days = {
  'day.open'(app, limb) {
    app.limbId = limb;
    app.draft = app.drafts[limb] ?? newDraft(limb, app.now());
    app.go('form', { step: app.draft.step });
  },

  'day.back': (app) => app.back(),
  'day.step': (app, name) => step(app, name),

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

  'day.sign': (app, sign) => change(app, { signs: toggled(app.draft.signs, sign) }),

  'day.comfort'(app, n) {
    change(app, { comfort: Number(n) }, { paint: false });
    next(app);
  },

  'day.skin'(app, skin) {
    const findings = skin === 'found' ? app.draft.findings : [];
    change(app, { skin, findings }, { paint: skin === 'found' });
    if (skin !== 'found') next(app);
  },

  'day.place'(app, place) {
    app.params = { place };
    app.paint();
    document.getElementById('what')?.scrollIntoView({ block: 'start' });
  },

  'day.finding'(app, finding) {
    const { findings } = tapFinding(app.draft, app.params.place, finding);
    change(app, { findings });
  },

  'day.minutes'(app, minutes) {
    const at = (one) => one.place === app.params.place && one.finding === 'redness';
    const findings = app.draft.findings.map((one) => (at(one) ? { ...one, redness_minutes: Number(minutes) } : one));
    change(app, { findings });
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
    await app.diary.dropPhoto(id);
  },

  'day.date': (app, date) => change(app, { date, time: null }),
  'day.moment': (app, moment) => change(app, { moment }),
  'day.activity': (app, activity) => change(app, { activity: app.draft.activity === activity ? null : activity }),
  'day.falls': (app, falls) => change(app, { falls: app.draft.falls === Number(falls) ? null : Number(falls) }),
  'day.pain': (app, pain) => change(app, { pain: app.draft.pain === Number(pain) ? null : Number(pain) }),
  'day.tag': (app, tag) => change(app, { tags: toggled(app.draft.tags, tag) }),

  /** The number typed stays as it is; it was meant in the unit now chosen. */
  async 'day.unit'(app, unit) {
    const typed = document.getElementById('weight_kg').value;
    app.settings = { ...app.settings, unit };
    change(app, { weight_kg: toKg(typed === '' ? null : Number(typed), unit) });
    await app.diary.putSmall('settings', app.settings).catch(() => {});
  },

  'day.typed'(app, _, input) {
    const { field } = input.dataset;
    if (field === 'date') {
      if (input.value) change(app, { date: input.value, time: null }, { paint: false });
    } else if (field === 'weight_kg') {
      change(app, { weight_kg: toKg(input.value === '' ? null : Number(input.value), unitOf(app)) }, { paint: false });
    } else if (field === 'note') change(app, { note: input.value }, { paint: false });
    else change(app, { [field]: input.value === '' ? null : Number(input.value) }, { paint: false });
  },

  'day.next'(app) {
    const { draft } = app;
    const gap = missing(draft);
    if (draft.step === 'socks' && gap.includes('socks')) return complain(app, say('socks.error'));
    if (draft.step === 'comfort' && gap.includes('comfort')) return complain(app, say('comfort.error'));
    return next(app);
  },

  async 'day.save'(app) {
    const { draft } = app;
    if (app.saving) return;
    if (missing(draft).length) {
      step(app, missing(draft)[0]);
      complain(app, say('review.error'));
      return;
    }
    app.saving = true;
    const { account } = app.person();
    const checkin = checkinOf(draft, { id: draft.id ?? uuid7(), now: app.now(), device_id: account.device_id });
    draft.id = checkin.id; // a second try after a failed save is the same entry
    try {
      const taken = draft.photos.length ? await app.diary.photos() : [];
      const own = taken.filter((photo) => photo.state === 'draft' && draft.photos.includes(photo.id));
      const photos = own.map((photo) => ({ ...photo, checkin_id: checkin.id, state: 'waiting' }));
      await app.diary.save(fresh(checkin, account.device_id), { mends: draft.mends, draft: draftKey(draft), photos });
    } catch (error) {
      if (error?.name === 'VersionError') app.flags.add('update');
      complain(app, say(FAILURES[error?.name] ?? 'saved.failed'));
      return;
    } finally {
      app.saving = false;
    }
    app.draft = null;
    app.drafts[checkin.limb_id] = undefined;
    app.entryId = checkin.id;
    // What was just committed is shown at once; the store is read again behind it.
    app.rows[checkin.limb_id] = [...(app.rows[checkin.limb_id] ?? []), fresh(checkin, account.device_id)];
    app.outbox.waiting += 1;
    app.go('saved', { replace: true });
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

