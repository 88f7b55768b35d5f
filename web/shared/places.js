/** Where on a residual limb: fixed places for each level, for the phone's picture and the clinic's page. */

const SHIN = ['kneecap_tendon', 'shin_front', 'shin_end', 'inner_side', 'outer_side', 'outer_bump', 'limb_end', 'calf', 'back_of_knee', 'brim'];
const THIGH = ['thigh_front', 'inner_thigh', 'outer_thigh', 'back_thigh', 'limb_end', 'groin', 'sit_bone', 'brim'];
const FOOT = ['limb_end', 'sole', 'heel', 'top_of_foot', 'inner_ankle', 'outer_ankle'];
const HIP = ['hip_front', 'groin', 'sit_bone', 'tailbone', 'waist', 'limb_end', 'brim'];

export const PLACES = {
  partial_foot: FOOT,
  ankle_disarticulation: ['limb_end', 'heel', 'shin_front', 'inner_ankle', 'outer_ankle', 'calf', 'brim'],
  transtibial: SHIN,
  knee_disarticulation: ['limb_end', 'inner_knee', 'outer_knee', 'thigh_front', 'inner_thigh', 'outer_thigh', 'back_thigh', 'brim'],
  transfemoral: THIGH,
  hip_disarticulation: HIP,
  transpelvic: HIP,
};

/** In anatomy, for the clinic's page. The phone has its own plain words in each language. */
export const PLACE_WORDS = {
  kneecap_tendon: 'patellar tendon', shin_front: 'tibial crest', shin_end: 'distal end of the tibia',
  inner_side: 'medial side', outer_side: 'lateral side', outer_bump: 'fibular head', limb_end: 'distal end',
  calf: 'calf', back_of_knee: 'popliteal fossa', brim: 'socket brim', thigh_front: 'anterior thigh',
  inner_thigh: 'medial thigh', outer_thigh: 'lateral thigh', back_thigh: 'posterior thigh', groin: 'groin', sit_bone: 'ischial tuberosity',
  sole: 'plantar surface', heel: 'heel', top_of_foot: 'dorsum of the foot', inner_ankle: 'medial ankle', outer_ankle: 'lateral ankle',
  inner_knee: 'medial side of the knee', outer_knee: 'lateral side of the knee', hip_front: 'anterior hip', tailbone: 'coccyx',
  waist: 'waist', not_said: 'place not said',
};

/** What pads were entered with before: their text holds these words. */
const EARLIER = {
  'just below the kneecap': 'kneecap_tendon', 'front of the shin': 'shin_front', 'end of the shin bone': 'shin_end', 'inner side': 'inner_side',
  'outer side': 'outer_side', 'bony bump on the outer side': 'outer_bump', 'end of the limb': 'limb_end', 'back of the knee': 'back_of_knee',
  'at the socket brim': 'brim', 'front of the thigh': 'thigh_front', 'inner thigh': 'inner_thigh', 'outer thigh': 'outer_thigh',
  'back of the thigh': 'back_thigh', 'sit bone': 'sit_bone', 'top of the foot': 'top_of_foot', 'inner ankle': 'inner_ankle', 'outer ankle': 'outer_ankle',
  'inner side of the knee': 'inner_knee', 'outer side of the knee': 'outer_knee', 'front of the hip': 'hip_front', tailbone: 'tailbone', waist: 'waist',
};
const CODES = { ...EARLIER, ...Object.fromEntries(Object.entries(PLACE_WORDS).map(([code, words]) => [words, code])) };

/** The code of a place kept as a code, or as words of now or before; other text as it is. */
export const placeCode = (place) => (place in PLACE_WORDS ? place : CODES[place] ?? place);

/** A place in the clinic's words, however it was kept; never with an underscore. */
export const placeWords = (place) => PLACE_WORDS[placeCode(place)] ?? String(place ?? '').replaceAll('_', ' ');
