/** A phone without a screen: the app's own modules of a tree, against a server. `node phone.mjs WEB URL`; what it
 *  holds comes in and goes out as JSON, with what it is to do: join by a code, log an item, sync, correct.
 */

import { readFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const [web, url] = process.argv.slice(2);
const from = (name) => import(pathToFileURL(`${web}/phone/${name}`).href);
const [api, { checkinOf, draftOf, newDraft }, { diaryOn }, { uuid7 }, { memory }, { outboxOn }, { fresh },
  { syncAccount }] = await Promise.all(
  ['api.js', 'checkin.js', 'diary.js', 'ids.js', 'memory.js', 'outbox.js', 'rows.js', 'sync.js'].map(from));

const reach = globalThis.fetch;
globalThis.fetch = (path, how) => reach(url + path, how);

const { code, log, correct, account: known, rows = [] } = JSON.parse(readFileSync(0));
const KEYS = { accounts: 'device_id', checkins: 'id', photos: 'id', small: undefined };
const diary = diaryOn(memory(Object.keys(KEYS), KEYS, (row, index) => (index === 'limb' ? row.limb_id : row[index])), true);
const joined = code ? await api.enrol(code, 'phone') : null;
const account = known ?? { ...joined, epoch: null, cursor: null, consent: {} };
await diary.putAccount(account);
for (const row of rows) await diary.save(row);

const now = () => new Date();
const write = (draft) =>
  diary.save(fresh(checkinOf(draft, { id: uuid7(), now: now(), device_id: account.device_id }), account.device_id));
const [limb] = account.people[0].limbs;
if (log) await write({ ...newDraft(limb.id, now()), bare: true, comfort: 7, danger: 'asked', ...log });
if (correct) await write({ ...draftOf((await diary.everyCheckin()).find((row) => row.id === correct.id), now()),
  ...correct.draft });

const [before] = await diary.accounts();
const { restored } = await syncAccount(before, { diary, outbox: outboxOn(diary), api, now, build: () => 'test' });
const [after] = await diary.accounts();
console.log(JSON.stringify({ account: after, rows: await diary.everyCheckin(), restored }));
