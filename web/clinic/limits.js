/** The clinic's limits in words, with their units and sources; the figures come from the server (thresholds.py). */

/** The nearest published word on how little misfit is felt, said wherever the margin is. */
export const FELT = 'What is felt may be less: of 33 copies of worn sockets, all 13 with a mean radial error over 0.25 mm were clinically unacceptable (Sanders, Severance, Allyn 2012).';

export const LIMITS = {
  steady_margin_mm: ['Margin of “steady”: sock expected in the coming 28 days', 'mm', `One thin single-material sock under load, about 3 % at 300 mm (Sanders, Cagle, Harrison, Karchin 2012); as a margin: judgement. ${FELT}`],
  redness_minutes: ['Redness that lasts longer than', 'min', 'Patient pages say 20 minutes (Gillette Children’s) and 15–20 (Shirley Ryan AbilityLab); others from 30 s to 30 min. Common practice.'],
  stack_call_ply: ['Sock stack to look at, by the labels', 'ply', 'Generally more than 10 ply can cause instability and undue pressure (J. Latham Robinson, “Prosthetic Sock Ply Management”). Common practice.'],
  stack_due_ply: ['Sock stack at which the socket no longer serves', 'ply', 'Judgement.'],
  thick_socks: ['Thick socks at once', 'socks', 'Three or more thick socks: probably contact the clinic (North Cumbria Integrated Care NHS Foundation Trust, leaflet “Amputee: prosthetic limb wearer”). Common practice.'],
  thick_ply: ['A sock is thick from', 'ply', 'Judgement.'],
  comfort_drop: ['Weekly comfort lower by', 'points', 'One study of changed sockets splits its wearers at 2 points or more (Prosthesis 2025;7(3):53); as an alert: judgement.'],
  comfort_low: ['Comfort is low at or under', 'points', 'Two such days in a week. Judgement.'],
  wear_drop_share: ['Wear time fallen by this share', '', 'Judgement.'],
  falls_in_30_days: ['Falls in 30 days', 'falls', 'Judgement.'],
  weight_share_of_limit: ['Body weight as a share of the socket’s limit', '', 'Judgement.'],
  weight_moved_kg: ['Body weight moved by', 'kg', 'About 10 lb gained or lost can affect fit. Common practice.'],
  silent_days: ['Silence to note after', 'days', 'Beyond the person’s own longest usual gap. Judgement.'],
  silent_call_days: ['Silence to call about after', 'days', 'Judgement.'],
  outgrown_mm: ['Stack under its baseline (outgrown) by', 'mm', 'One thin sock, held. Judgement.'],
  context_days: ['Illness, new medicine, pregnancy or moved weight unsettle the reading for', 'days', 'Judgement.'],
  first_definitive_weeks: ['First definitive socket not before (a caution, never a bar)', 'weeks', 'The average limb still loses a thin sock in four weeks until then (derived from Tantua et al. 2014). Judgement.'],
  remake_from_days: ['Definitive socket planned from this day after a diagnostic one', 'days', 'A diagnostic socket is made again two to three weeks later. Common practice.'],
  remake_by_days: ['Definitive socket planned by this day after a diagnostic one', 'days', 'The same. Common practice.'],
};
