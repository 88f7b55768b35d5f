/** The clinic's limits in words, with their units and sources; the figures come from the server (thresholds.py). */

export const LIMITS = {
  steady_margin_mm: ['Margin of “steady”: sock expected in the coming 28 days', 'mm', 'One thin single-material sock under load, about 3 % at 300 mm (Sanders 2012); as a margin: judgement.'],
  redness_minutes: ['Redness that lasts longer than', 'min', 'Two hospital leaflets say 15–20 and 20 minutes; others from 30 s to 30 min. Common practice.'],
  stack_call_ply: ['Sock stack to look at, by the labels', 'ply', '“More than 10 ply gives instability”, trade page. Common practice.'],
  stack_due_ply: ['Sock stack at which the socket no longer serves', 'ply', 'Replace at 15–20 ply, exam-preparation material; others 10–15. Common practice, weak.'],
  thick_socks: ['Thick socks at once', 'socks', '“Three or more thick socks: contact the clinic”, a public patient leaflet. Common practice.'],
  thick_ply: ['A sock is thick from', 'ply', 'Judgement.'],
  comfort_drop: ['Weekly comfort lower by', 'points', 'Two points mark a successful socket change (Prosthesis 2025;7(3):53); as an alert: judgement.'],
  comfort_low: ['Comfort is low at or under', 'points', 'Two such days in a week. Judgement.'],
  wear_drop_share: ['Wear time fallen by this share', '', 'Judgement.'],
  falls_in_30_days: ['Falls in 30 days', 'falls', 'Judgement.'],
  weight_share_of_limit: ['Body weight as a share of the socket’s limit', '', 'Judgement.'],
  weight_moved_kg: ['Body weight moved by', 'kg', 'About 10 lb gained or lost can affect fit (patient page). Common practice.'],
  silent_days: ['Silence to note after', 'days', 'Beyond the person’s own longest usual gap. Judgement.'],
  silent_call_days: ['Silence to call about after', 'days', 'Judgement.'],
  outgrown_mm: ['Stack under its baseline (outgrown) by', 'mm', 'One thin sock, held. Judgement.'],
  skin_closed_days: ['Open skin: closed this long before a recast is planned', 'days', 'Judgement.'],
  context_days: ['Illness, new medicine, pregnancy or moved weight unsettle the reading for', 'days', 'Judgement.'],
  first_definitive_weeks: ['First definitive socket not before (a caution, never a bar)', 'weeks', 'The average limb still loses a thin sock in four weeks until then (derived from Tantua 2014). Judgement.'],
};
