/** What the codes of the wire are called on the clinic's screens: in English here, in others by the server (`learn`). */

import { PLACE_WORDS } from '../shared/places.js';

export const SIDE = { left: 'left', right: 'right' };
export const LEVEL = {
  partial_foot: 'partial foot', ankle_disarticulation: 'ankle disarticulation', transtibial: 'transtibial',
  knee_disarticulation: 'knee disarticulation', transfemoral: 'transfemoral', hip_disarticulation: 'hip disarticulation',
  transpelvic: 'transpelvic',
};
export const SHAPE = { conical: 'conical', cylindrical: 'cylindrical', bulbous: 'bulbous' };
export const PURPOSE = { diagnostic: 'diagnostic', preparatory: 'preparatory', definitive: 'definitive' };
export const MADE = { cast: 'cast and modified', digital: 'digital', direct: 'formed on the limb' };
export const MATERIAL = { carbon: 'carbon', glass: 'glass', composite: 'other composite', thermoplastic: 'thermoplastic', other: 'other' };
export const SUSPENSION = {
  pin_lock: 'pin lock', suction: 'suction', sealing_liner: 'sealing liner', sleeve: 'sleeve', elevated_vacuum: 'elevated vacuum',
  strap: 'strap',
};
export const TAG = {
  diabetes: 'diabetes', vascular: 'vascular disease', reduced_sensation: 'reduced sensation', dialysis: 'dialysis',
  heart_failure: 'heart failure', smoking: 'smoking', pregnancy: 'pregnancy', blood_thinners: 'blood thinners', congenital: 'from birth',
};
/** A fact of the person that follows from the birthday, among those the reading depends on. */
export const READING = { ...TAG, child: 'child' };
export const DAY_TAG = {
  dialysis: 'dialysis day', illness: 'illness', hot_day: 'hot day', new_medicine: 'new medicine', shrinker: 'shrinker',
  midday_rest: 'midday rest', new_socks: 'new socks', travel: 'travel', long_standing: 'long standing',
};
export const MOMENT = { putting_on: 'putting on', during: 'during the day', end_of_day: 'end of day' };
export const ACTIVITY = { less: 'less than usual', usual: 'usual', more: 'more than usual' };
export const FINDING = {
  redness: 'redness', blister: 'blister', open_skin: 'open skin', discharge: 'discharge',
  spreading_redness: 'spreading redness', colour_change: 'change of colour', numbness: 'numbness', rash: 'rash',
  callus: 'callus', swelling: 'swelling', other: 'something else, not said what',
};
/** How a place found before is now, and whether the socket was left off, as the wearer says it. */
export const LEFT_OFF = { yes: 'yes', no: 'no', cannot_say: 'could not say' };
export const COURSE = { gone: 'gone', better: 'better', same: 'the same', worse: 'worse' };
export const SIGN = {
  slips_up_and_down: 'slips up and down', sinks_to_bottom: 'sinks to the bottom', cannot_get_fully_in: 'can’t get fully in',
  fewer_clicks: 'fewer pin clicks than usual', more_clicks: 'more pin clicks than usual', bony_point: 'bony point at the end',
  stretched_skin: 'stretched skin at the end', severe_pain: 'severe pain', sock_stuck: 'sock stuck to the skin',
  fever_or_shivering: 'fever or shivering', fast_spreading_redness: 'redness spreading fast',
  cold_pale_limb: 'cold, pale limb', confusion: 'confusion', swollen_warm_painful: 'leg or limb newly swollen, warm and painful',
  chest_pain_or_breathless: 'chest pain or breathlessness', bleeding_not_stopping: 'bleeding that does not stop',
  fall_hit_head: 'fall with a blow to the head', fall_cannot_bear_weight: 'fall, can’t bear weight',
  rash_spreads_or_blisters: 'rash that spreads or blisters', hotter_than_other_side: 'hotter than the other side',
  wound_edge_opening: 'wound edge opening', new_numbness: 'whole limb newly numb',
};
export const STATE = {
  gathering: 'not known yet', changing: 'changing', settling: 'settling', steady: 'steady', due: 'due', held: 'held',
};
export const STATE_MEANS = {
  gathering: 'Too little is logged, or nothing lately: what the limb does now is not known.',
  changing: 'The limb’s volume is changing.',
  settling: 'The change is slowing down.',
  steady: 'The coming four weeks’ change is expected to stay within the margin: three days running with at most 3 % doubt on either side, taken back at 6 %. A signal for you, not a verdict.',
  due: 'The socket no longer serves, whatever the trend.',
  held: 'Skin, health or weight says wait with a recast.',
};
/** The same on a row of the list, where there is room for a word or two. */
export const CHIP = {
  heart_failure: 'heart', dialysis: 'dialysis', pregnancy: 'pregnant', diabetes: 'diabetes', vascular: 'vessels', reduced_sensation: 'no feeling',
  blood_thinners: 'thinners', smoking: 'smoker', child: 'child',
};
/** What was done at the clinic is kept as chosen; these codes came from elsewhere. */
export const INTERVENTION = {
  suspension_switched: 'Suspension switched', trim_line: 'Trim line changed', relief: 'Relief made', shrinker_ordered: 'Shrinker ordered',
  wear_schedule: 'Wear schedule set', pad_added: 'Pad added',
};
/** The words of a code; one that is not known loses its underscores, so that none is ever shown. */
export const said = (words, code) => words[code] ?? code.replaceAll('_', ' ');
/** What the kinds of signal are called: the server's register says so at sign-in, each signal's file there its own. */
let kinds = {};
export const kindWord = (kind) => kinds[kind] ?? kind.replaceAll('-', ' ');

/** At sign-in: the kinds of signal, and what the codes are called in the browser's language, where the server has it. */
export function learn(signals, words = {}) {
  kinds = signals ?? {};
  const tables = { LEVEL, SHAPE, PURPOSE, MADE, MATERIAL, SUSPENSION, TAG, DAY_TAG, FINDING, SIGN, STATE, INTERVENTION, PLACE: PLACE_WORDS };
  for (const [name, table] of Object.entries(words)) Object.assign(tables[name] ?? {}, table);
  Object.assign(READING, words.TAG);
}
/** What the phone's fixed rules come to. */
export const ADVICE_LEVEL = { emergency: 'emergency', stop_wear: 'stop wearing', heart_team: 'heart team', call_clinic: 'call the clinic' };
export const ROLE = { prosthetist: 'prosthetist', assistant: 'assistant', manager: 'manager' };
export const STATUS = { open: 'open', acknowledged: 'acknowledged', snoozed: 'snoozed', closed: 'closed' };

/** The four rungs of the worklist, most urgent first: what to do, and the mark's name. */
export const URGENCY = {
  3: { name: 'urgent', title: 'Call now', means: 'urgent' },
  2: { name: 'call', title: 'Call this week', means: 'call' },
  1: { name: 'note', title: 'Look before the next visit', means: 'note' },
  0: { name: 'quiet', title: 'Nothing asked', means: 'nothing open' },
};
export const LEVEL_URGENCY = { urgent: 3, call: 2, note: 1 };

export function limbName(limb) {
  return `${SIDE[limb.side] ?? limb.side} ${LEVEL[limb.level] ?? limb.level}`;
}

export function ply({ ply, make }) {
  const name = ply === 0 ? 'sheath' : `${ply}-ply`;
  return make === 'blend' ? `${name} blend` : name;
}

/** A stack as the wearer sees it: "5-ply + 1-ply". */
export const stack = (socks) => (socks.length ? socks.map(ply).join(' + ') : 'no sock');

/** A stack by its labels, thickest first: "5+1-ply"; `unit` goes behind the figures. */
export function plies(socks, unit = '-ply') {
  const by = (some) => some.map((sock) => sock.ply).sort((a, b) => b - a).join('+');
  const single = by(socks.filter((sock) => sock.ply && sock.make !== 'blend'));
  const blend = by(socks.filter((sock) => sock.ply && sock.make === 'blend'));
  const sheaths = socks.filter((sock) => !sock.ply).length;
  return [single && `${single}${unit}`, blend && `${blend}${unit} blend`, sheaths === 1 ? 'a sheath' : sheaths ? `${sheaths} sheaths` : ''].filter(Boolean).join(' and ') || 'no sock';
}

/** What a change of sock comes to in single-material socks as they measure under load (`web/shared/thickness.js`). */
const IN_PLY = [[0.7, 'about a 1-ply'], [1.2, 'about a 3-ply'], [1.5, 'about a 5-ply'], [2.2, 'about 5+1-ply'], [3, 'about 5+5-ply'], [4.5, 'about 5+5+5-ply']];

/** "about a 1-ply more": millimetres of sock, said in ply. */
export function inPly(mm) {
  const size = Math.abs(mm);
  const way = mm < 0 ? 'less' : 'more';
  if (size < 0.15) return 'no more and no less sock';
  if (size < 0.5) return `less than a 1-ply ${way}`;
  if (size > 5) return `more than 5+5+5-ply ${way}`;
  const [, words] = IN_PLY.reduce((best, one) => (Math.abs(one[0] - size) < Math.abs(best[0] - size) ? one : best));
  return `${words} ${way}`;
}

/** The stack at fitting: what was not entered is not "no sock". */
export function atFitting({ stack_at_fitting: socks, baseline_unsure: unsure }) {
  if (socks === null || socks === undefined) return 'not entered';
  return !socks.length && unsure ? 'no sock, or not entered' : stack(socks);
}

/** What the percent rest on that is not known: " (300 mm assumed as the circumference)", or nothing. */
export const lacking = (lacks) => (lacks?.length ? ` (${lacks.map(({ text }) => text).join('; ')})` : '');

/** "one", "2": a count with its noun. */
export const many = (count, one, more = `${one}s`) => `${count} ${count === 1 ? one : more}`;

/** Percent with its sign and one decimal: "−6.2 %". */
export function pct(value) {
  const text = Math.abs(value).toFixed(1);
  return `${text === '0.0' ? '' : value < 0 ? '−' : '+'}${text} %`;
}

/** Millimetres of sock with a sign: "+0.6 mm". */
export function mm(value) {
  const text = Math.abs(value).toFixed(1);
  return `${text === '0.0' ? '' : value < 0 ? '−' : '+'}${text} mm`;
}

export const CHOICE = {
  'diagnostic-now': 'Diagnostic socket now', 'definitive-now': 'Definitive socket now',
  'diagnostic-then-definitive': 'Diagnostic now, definitive in some weeks', wait: 'Wait', keep: 'Keep this socket', other: 'Something else',
};

/** What it is: a pad, or a half sock with how much of the limb it covers. */
export const padName = ({ half_sock_pct: share }) => (share ? `Half sock over ${share} %` : 'Pad');
