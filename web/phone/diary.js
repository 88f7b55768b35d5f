/** The phone's own copy: accounts (one for each code used), check-ins, photos, and small settings.
 *
 *  A second, small copy of who this phone is lies in localStorage, without any entry, so that a wiped store is
 *  noticed and refilled.
 */

import { begunKey, isBegunKey } from './begun.js';
import { isDraftKey, keyOf } from './drafts.js';
import { database } from './idb.js';
import { memory } from './memory.js';
import { settledAnswers, waitingOf } from './messages.js';
import * as rows from './rows.js';

const KEYS = { accounts: 'device_id', checkins: 'id', photos: 'id', small: undefined };
const STORES = Object.keys(KEYS);
const MARK = 'plytide.accounts';
const UNSENT = 'plytide.unsent';
export const VERSION = 1;

/** Every version's step stays for ever: an old phone with unsent entries must come through. */
export function upgrade(db, from) {
  if (from < 1) {
    db.createObjectStore('accounts', { keyPath: 'device_id' });
    const checkins = db.createObjectStore('checkins', { keyPath: 'id' });
    checkins.createIndex('limb', 'limb_id');
    checkins.createIndex('state', 'state');
    db.createObjectStore('photos', { keyPath: 'id' }).createIndex('state', 'state');
    db.createObjectStore('small');
  }
}

const indexOf = (row, index) => (index === 'limb' ? row.limb_id : row[index]);

/** Opens the copy. `keeps` is false where the phone keeps nothing and all lives in the page. */
export async function openDiary(on = {}) {
  let store = database('plytide', VERSION, upgrade, on);
  let keeps = true;
  try {
    const used = (await store.during(['accounts'], 'readonly', (s) => s.accounts.all())).length > 0;
    if (!used) await store.during(['small'], 'readwrite', ({ small }) => small.put(Date.now(), 'probe'));
  } catch (error) {
    keeps = error?.name === 'QuotaExceededError';
  }
  if (!keeps) store = memory(STORES, KEYS, indexOf);
  const diary = diaryOn(store, keeps);
  const ready = () => diary;
  return diary.moveDrafts().then(ready, ready); // drafts that could not be moved are read where they lie
}

const isSent = (photo) => photo.state === 'sent';

const checkinsOf = async (s, account) => new Set((await s.checkins.all()).filter((row) => row.account === account).map((row) => row.id));

/** How many photos went. */
async function dropThose(s, those) {
  const gone = (await s.photos.all()).filter(those);
  for (const photo of gone) await s.photos.delete(photo.id);
  return gone.length;
}

function marks() {
  try {
    return JSON.parse(localStorage.getItem(MARK) ?? '[]');
  } catch {
    return [];
  }
}

const onlyHere = (row) => (row.state === 'waiting' && !row.again) || row.state === 'refused'; // what the clinic could not take it has not

const unsentDays = (checkins) => [...new Set(checkins.filter(onlyHere).map((row) => row.checkin.date))].sort();

/** The days of entries that are nowhere but here, kept apart from them: so that their loss is noticed. */
export function markUnsent(checkins) {
  try {
    localStorage.setItem(UNSENT, JSON.stringify(unsentDays(checkins)));
  } catch {
    // as above
  }
}

export function unsentBefore() {
  try {
    return JSON.parse(localStorage.getItem(UNSENT) ?? '[]');
  } catch {
    return [];
  }
}

function writeMarks(accounts) {
  try {
    const short = accounts.map(({ device_id, token, role, people, clinic }) => ({ device_id, token, role, people, clinic }));
    localStorage.setItem(MARK, JSON.stringify(short));
  } catch {
    // Without the second copy a wiped store can't be refilled by itself; nothing else is lost.
  }
}

export function diaryOn(store, keeps) {
  const read = (names, work) => store.during(names, 'readonly', work);
  const put = (names, work) => store.during(names, 'readwrite', work);

  /** A full phone lets go of photos that the clinic has before it refuses anything new. */
  const write = (names, work) =>
    put(names, work).catch(async (error) => {
      if (error?.name !== 'QuotaExceededError' || !(await put(['photos'], (s) => dropThose(s, isSent)))) throw error;
      return put(names, work);
    });

  const accounts = () => read(['accounts'], (s) => s.accounts.all());

  async function putAccount(account) {
    await write(['accounts'], (s) => s.accounts.put(account));
    writeMarks(await accounts());
  }

  /** Forget a phone's link and all it holds of it; only ever asked for by the wearer. */
  async function dropAccount(id) {
    await write(['accounts', 'checkins', 'photos'], async (s) => {
      const own = await checkinsOf(s, id);
      await s.accounts.delete(id);
      for (const row of own) await s.checkins.delete(row);
      await dropThose(s, (photo) => own.has(photo.checkin_id));
    });
    writeMarks(await accounts());
  }

  /** Accounts this phone had, by the second copy, when the store itself is empty. */
  async function wiped() {
    return (await accounts()).length ? [] : marks();
  }

  /** All that the screens show, as it stood at one moment. */
  const everything = () =>
    read(STORES, async (s) => {
      const [all, checkins, photos, settings] = await Promise.all([s.accounts.all(), s.checkins.all(), s.photos.all(), s.small.get('settings')]);
      const limbs = all.flatMap((account) => account.people.flatMap((person) => person.limbs.map((limb) => limb.id)));
      const byLimb = async (kind) => Object.fromEntries(await Promise.all(limbs.map(async (limb) => [limb, await s.small.get(`${kind}:${limb}`)])));
      const [begun, drawers] = await Promise.all([s.small.keys(), byLimb('drawer')]);
      const those = (kind) => Promise.all(begun.filter(kind).map(async (key) => s.small.get(key)));
      const [drafts, told] = await Promise.all([those(isDraftKey), those(isBegunKey)]);
      return { accounts: all, checkins, photos, settings: settings ?? {}, drafts, drawers, begun: told };
    });

  /** Drafts of an earlier version, one a limb, to where there can be one for each day. */
  const moveDrafts = () =>
    write(['small'], async (s) => {
      const keys = await s.small.keys();
      for (const key of keys.filter(isDraftKey)) {
        const draft = await s.small.get(key);
        if (key === keyOf(draft)) continue;
        const moved = { ...draft, opened_at: draft.opened_at ?? draft.date };
        await s.small.put(moved, keyOf(moved));
        await s.small.delete(key);
      }
    });

  /** A draft is thrown away, with the photos that were taken for it alone. */
  const dropDraft = (draft) =>
    write(['small', 'photos'], async (s) => {
      await s.small.delete(keyOf(draft));
      for (const id of draft.photos ?? []) await s.photos.get(id).then((photo) => unsaved(photo) && s.photos.delete(id));
    });

  const unsaved = (photo) => photo?.state === 'draft';

  /** A photo of a draft; one that was saved with an entry stays. */
  const dropUnsaved = (id) => write(['photos'], (s) => s.photos.get(id).then((photo) => unsaved(photo) && s.photos.delete(id)));

  /** Photos the clinic has are let go where `may` says so. */
  const letGo = (id, may) =>
    write(['checkins', 'photos'], async (s) => {
      const own = await checkinsOf(s, id);
      await dropThose(s, (photo) => isSent(photo) && own.has(photo.checkin_id) && may(photo));
    });

  const everyCheckin = () => read(['checkins'], (s) => s.checkins.all());
  const waiting = () => read(['checkins'], (s) => s.checkins.by('state', 'waiting'));

  /** Written before the screen says saved. A refused row it mends steps aside; its draft is done with. */
  const save = (row, { mends = null, draft = null, photos = [] } = {}) =>
    write(['checkins', 'small', 'photos'], async (s) => {
      await s.checkins.put(row);
      const refused = mends && (await s.checkins.get(mends));
      if (refused && mends !== row.id) await s.checkins.put({ ...refused, state: 'mended' });
      for (const photo of photos) await s.photos.put(photo);
      if (draft) await s.small.delete(draft);
      await s.small.delete(begunKey(row.id)); // the entry says it now
    });

  /** Dangers of entries that were begun and not saved. */
  const begun = () => read(['small'], async (s) => Promise.all((await s.small.keys()).filter(isBegunKey).map((key) => s.small.get(key))));
  const putBegun = (row) => write(['small'], (s) => s.small.put(row, begunKey(row.id)));
  const dropBegun = (id) => write(['small'], (s) => s.small.delete(begunKey(id)));

  /** The clinic has heard it, unless it has changed meanwhile. */
  const toldBegun = (row) =>
    write(['small'], async (s) => {
      const now = await s.small.get(begunKey(row.id));
      if (!now || JSON.stringify(now.item) !== JSON.stringify(row.item)) return;
      if (row.over) await s.small.delete(begunKey(row.id));
      else await s.small.put({ ...row, sent: true }, begunKey(row.id));
    });

  /** One answer of the server, rows and cursor together: nothing can be skipped if the page dies in between. */
  const apply = (id, answer) =>
    write(['accounts', 'checkins', 'photos', 'small'], async (s) => {
      const account = await s.accounts.get(id);
      if (!account) return null;
      for (const receipt of answer.receipts ?? []) {
        const row = await s.checkins.get(receipt.id);
        const next = row && rows.settled(row, receipt);
        if (next) await s.checkins.put(next);
      }
      const restored = Boolean(account.epoch && account.epoch !== answer.epoch);
      if (restored) {
        for (const row of await s.checkins.all()) if (row.account === id) await s.checkins.put(rows.offeredAgain(row));
        const own = await checkinsOf(s, id);
        for (const photo of await s.photos.all()) if (isSent(photo) && own.has(photo.checkin_id)) await s.photos.put({ ...photo, state: 'waiting' });
        for (const key of (await s.small.keys()).filter(isBegunKey)) await s.small.put({ ...(await s.small.get(key)), sent: false }, key);
      }
      let people = account.people;
      for (const change of answer.changes ?? []) {
        if (change.type === 'checkin') {
          const incoming = rows.fromChange(change, id);
          await s.checkins.put(rows.merged(await s.checkins.get(incoming.id), incoming));
        } else {
          people = withChange(people, change);
        }
      }
      const answers = settledAnswers(account.answers, answer.answer_receipts, restored);
      const next = { ...account, people, answers, epoch: answer.epoch, cursor: answer.cursor, unlinked: false };
      next.synced_at = answer.at;
      await s.accounts.put(next);
      return { account: next, restored };
    });

  /** What /api/me says of an account, also put into the second copy. */
  const learn = async (id, fields) => {
    await change(id, fields);
    writeMarks(await accounts());
  };

  const change = (id, fields) =>
    write(['accounts'], async (s) => {
      const account = await s.accounts.get(id);
      if (account) await s.accounts.put({ ...account, ...fields });
    });

  /** Answers to the clinic, written before the screen says so. */
  const addAnswers = (id, answers) =>
    write(['accounts'], async (s) => {
      const account = await s.accounts.get(id);
      if (account) await s.accounts.put({ ...account, answers: [...(account.answers ?? []), ...answers] });
    });

  const waitingAnswers = (id) => read(['accounts'], (s) => s.accounts.get(id).then((account) => waitingOf(account?.answers)));

  /** A new code for the same limbs takes over what the old link could not send. */
  async function takeOver(account) {
    await write(['accounts', 'checkins'], async (s) => {
      const limbs = new Set(account.people.flatMap((person) => person.limbs.map((limb) => limb.id)));
      for (const row of await s.checkins.all()) {
        if (limbs.has(row.limb_id) && row.account !== account.device_id) {
          await s.checkins.put({ ...row, account: account.device_id });
        }
      }
      const own = new Set(account.people.map((person) => person.id));
      const all = await s.accounts.all();
      const brought = all.filter((other) => other.device_id !== account.device_id).flatMap((other) => other.answers ?? []).filter((one) => own.has(one.person_id));
      const now = await s.accounts.get(account.device_id);
      if (now && brought.length) await s.accounts.put({ ...now, answers: [...brought, ...(now.answers ?? [])] });
      for (const other of all) {
        const rest = other.people.filter((person) => !own.has(person.id));
        if (other.unlinked && other.device_id !== account.device_id && !rest.length) await s.accounts.delete(other.device_id);
      }
    });
    writeMarks(await accounts());
  }

  return {
    keeps, accounts, putAccount, dropAccount, change, learn, addAnswers, waitingAnswers, takeOver, wiped, letGo, everyCheckin, everything, waiting, save, apply, moveDrafts,
    putDraft: (draft) => write(['small'], (s) => s.small.put(draft, keyOf(draft))),
    dropDraft, begun, putBegun, dropBegun, toldBegun,
    small: (key) => read(['small'], (s) => s.small.get(key)),
    putSmall: (key, value) => write(['small'], (s) => (value === undefined ? s.small.delete(key) : s.small.put(value, key))),
    photos: () => read(['photos'], (s) => s.photos.all()),
    putPhoto: (photo) => write(['photos'], (s) => s.photos.put(photo)),
    dropUnsaved,
    dropPhoto: (id) => write(['photos'], (s) => s.photos.delete(id)),
  };
}

/** A changed person, limb or socket put into the nested people of an account. */
export function withChange(people, change) {
  const { type, ...fields } = change;
  if (type === 'person') {
    const known = people.some((person) => person.id === change.id);
    if (!known) return [...people, { limbs: [], ...fields }];
    return people.map((person) => (person.id === change.id ? { ...person, ...fields } : person));
  }
  const inLimbs = (limbs) => {
    if (type === 'limb') {
      const known = limbs.some((limb) => limb.id === change.id);
      return known
        ? limbs.map((limb) => (limb.id === change.id ? { ...limb, ...fields } : limb))
        : [...limbs, { sockets: [], ...fields }];
    }
    return limbs.map((limb) => {
      if (limb.id !== change.limb_id) return limb;
      const sockets = (limb.sockets ?? []).filter((socket) => socket.id !== change.id);
      return { ...limb, sockets: [...sockets, fields].sort((a, b) => (a.fitted_on < b.fitted_on ? -1 : 1)) };
    });
  };
  return people.map((person) => {
    const owner = type === 'limb' ? person.id === change.person_id : person.limbs.some((limb) => limb.id === change.limb_id);
    return owner ? { ...person, limbs: inLimbs(person.limbs) } : person;
  });
}
