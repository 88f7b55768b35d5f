/** What the codes of the wire are called on the clinic's screens. */

export const SIDE = { left: 'left', right: 'right' };
export const LEVEL = {
  partial_foot: 'partial foot', ankle_disarticulation: 'ankle disarticulation', transtibial: 'transtibial',
  knee_disarticulation: 'knee disarticulation', transfemoral: 'transfemoral', hip_disarticulation: 'hip disarticulation',
  transpelvic: 'transpelvic',
};
export const SHAPE = { conical: 'conical', cylindrical: 'cylindrical', bulbous: 'bulbous' };
export const PURPOSE = { diagnostic: 'diagnostic', preparatory: 'preparatory', definitive: 'definitive' };
export const MADE = { cast: 'cast and modified', digital: 'digital', direct: 'laminated directly on the limb' };
export const MATERIAL = { carbon: 'carbon', glass: 'glass', basalt: 'basalt', thermoplastic: 'thermoplastic', other: 'other' };
export const SUSPENSION = {
  pin_lock: 'pin lock', suction: 'suction', seal_in: 'seal-in liner', sleeve: 'sleeve', elevated_vacuum: 'elevated vacuum',
  strap: 'strap',
};
export const TAG = {
  diabetes: 'diabetes', vascular: 'vascular disease', reduced_sensation: 'reduced sensation', dialysis: 'dialysis',
  heart_failure: 'heart failure', smoking: 'smoking', pregnancy: 'pregnancy', congenital: 'from birth',
};
export const DAY_TAG = {
  dialysis: 'dialysis day', illness: 'illness', hot_day: 'hot day', new_medicine: 'new medicine', shrinker: 'shrinker',
  midday_rest: 'midday rest', new_socks: 'new socks', travel: 'travel', long_standing: 'long standing',
};
export const MOMENT = { putting_on: 'putting on', during: 'during the day', end_of_day: 'end of day' };
export const ACTIVITY = { less: 'less than usual', usual: 'usual', more: 'more than usual' };
export const FINDING = {
  redness: 'redness', blister: 'blister', open_skin: 'open skin', discharge: 'discharge',
  spreading_redness: 'spreading redness', colour_change: 'change of colour', numbness: 'numbness', rash: 'rash',
  callus: 'callus', swelling: 'swelling', other: 'something else',
};
export const SIGN = {
  slips_up_and_down: 'slips up and down', sinks_to_bottom: 'sinks to the bottom', cannot_get_fully_in: 'can’t get fully in',
  fewer_clicks: 'fewer pin clicks than usual', more_clicks: 'more pin clicks than usual', bony_point: 'bony point at the end',
  stretched_skin: 'stretched skin at the end', severe_pain: 'severe pain', sock_stuck: 'sock stuck to the skin',
  fever_or_shivering: 'fever or shivering', fast_spreading_redness: 'redness spreading fast',
  cold_pale_limb: 'cold, pale limb', confusion: 'confusion',
};
export const STATE = {
  gathering: 'gathering', changing: 'changing', settling: 'settling', steady: 'steady', due: 'due', held: 'held',
};
export const STATE_MEANS = {
  gathering: 'Too little is logged to say more yet.',
  changing: 'The limb’s volume is changing.',
  settling: 'The change is slowing down.',
  steady: 'The coming four weeks’ change is expected to stay within the margin. A signal for you, not a verdict.',
  due: 'The socket no longer serves, whatever the trend.',
  held: 'Skin, health or weight says wait with a recast.',
};
export const KIND = {
  'volume-loss': 'volume lost', 'volume-gain': 'volume gained', 'stack-limit': 'sock stack', 'comfort-drop': 'comfort',
  skin: 'skin', 'wear-drop': 'wear time', fall: 'fall', weight: 'weight', silent: 'silence', outgrown: 'outgrown',
};
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
  'diagnostic-then-definitive': 'Diagnostic now, definitive in some weeks', wait: 'Wait', other: 'Something else',
};
