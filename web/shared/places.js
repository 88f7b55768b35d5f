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

/** In English, for the clinic's page. The phone has its own words in each language. */
export const PLACE_WORDS = {
  kneecap_tendon: 'just below the kneecap', shin_front: 'front of the shin', shin_end: 'end of the shin bone',
  inner_side: 'inner side', outer_side: 'outer side', outer_bump: 'bony bump on the outer side', limb_end: 'end of the limb',
  calf: 'calf', back_of_knee: 'back of the knee', brim: 'at the socket brim', thigh_front: 'front of the thigh',
  inner_thigh: 'inner thigh', outer_thigh: 'outer thigh', back_thigh: 'back of the thigh', groin: 'groin', sit_bone: 'sit bone',
  sole: 'sole', heel: 'heel', top_of_foot: 'top of the foot', inner_ankle: 'inner ankle', outer_ankle: 'outer ankle',
  inner_knee: 'inner side of the knee', outer_knee: 'outer side of the knee', hip_front: 'front of the hip', tailbone: 'tailbone',
  waist: 'waist',
};
