"""Codes of the model → the words staff read: anatomy for places, no code ever.

`web/clinic/words.js` and `web/shared/places.js` hold the same words for the pages; a test compares them. The wearer's
own words are the phone's, in its languages.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

PLACE = {
    "kneecap_tendon": "patellar tendon",
    "shin_front": "tibial crest",
    "shin_end": "distal end of the tibia",
    "inner_side": "medial side",
    "outer_side": "lateral side",
    "outer_bump": "fibular head",
    "limb_end": "distal end",
    "calf": "calf",
    "back_of_knee": "popliteal fossa",
    "brim": "socket brim",
    "thigh_front": "anterior thigh",
    "inner_thigh": "medial thigh",
    "outer_thigh": "lateral thigh",
    "back_thigh": "posterior thigh",
    "groin": "groin",
    "sit_bone": "ischial tuberosity",
    "sole": "plantar surface",
    "heel": "heel",
    "top_of_foot": "dorsum of the foot",
    "inner_ankle": "medial ankle",
    "outer_ankle": "lateral ankle",
    "inner_knee": "medial side of the knee",
    "outer_knee": "lateral side of the knee",
    "hip_front": "anterior hip",
    "tailbone": "coccyx",
    "waist": "waist",
    "not_said": "place not said",
}
FINDING = {
    "redness": "redness",
    "blister": "blister",
    "open_skin": "open skin",
    "discharge": "discharge",
    "spreading_redness": "spreading redness",
    "colour_change": "change of colour",
    "numbness": "numbness",
    "rash": "rash",
    "callus": "callus",
    "swelling": "swelling",
    "other": "something else, not said what",
}
SIGN = {
    "slips_up_and_down": "slips up and down",
    "sinks_to_bottom": "sinks to the bottom",
    "cannot_get_fully_in": "can’t get fully in",
    "fewer_clicks": "fewer pin clicks than usual",
    "more_clicks": "more pin clicks than usual",
    "bony_point": "bony point at the end",
    "stretched_skin": "stretched skin at the end",
    "severe_pain": "severe pain",
    "sock_stuck": "sock stuck to the skin",
    "fever_or_shivering": "fever or shivering",
    "fast_spreading_redness": "redness spreading fast",
    "cold_pale_limb": "cold, pale limb",
    "confusion": "confusion",
    "swollen_warm_painful": "leg or limb newly swollen, warm and painful",
    "chest_pain_or_breathless": "chest pain or breathlessness",
    "bleeding_not_stopping": "bleeding that does not stop",
    "fall_hit_head": "fall with a blow to the head",
    "fall_cannot_bear_weight": "fall, can’t bear weight",
    "rash_spreads_or_blisters": "rash that spreads or blisters",
    "hotter_than_other_side": "hotter than the other side",
    "wound_edge_opening": "wound edge opening",
    "new_numbness": "whole limb newly numb",
}
TAG = {
    "diabetes": "diabetes",
    "vascular": "vascular disease",
    "reduced_sensation": "reduced sensation",
    "dialysis": "dialysis",
    "heart_failure": "heart failure",
    "smoking": "smoking",
    "pregnancy": "pregnancy",
    "blood_thinners": "blood thinners",
    "congenital": "from birth",
    "child": "child",
}
DAY_TAG = {
    "dialysis": "dialysis day",
    "illness": "illness",
    "hot_day": "hot day",
    "new_medicine": "new medicine",
    "shrinker": "shrinker",
    "midday_rest": "midday rest",
    "new_socks": "new socks",
    "travel": "travel",
    "long_standing": "long standing",
}
SUSPENSION = {
    "pin_lock": "pin lock",
    "suction": "suction",
    "sealing_liner": "sealing liner",
    "sleeve": "sleeve",
    "elevated_vacuum": "elevated vacuum",
    "strap": "strap",
}
MATERIAL = {
    "carbon": "carbon",
    "glass": "glass",
    "composite": "other composite",
    "thermoplastic": "thermoplastic",
    "other": "other",
}
MADE = {"cast": "cast and modified", "digital": "digital", "direct": "formed on the limb"}
STATE = {
    "gathering": "not known yet",
    "changing": "changing",
    "settling": "settling",
    "steady": "steady",
    "due": "due",
    "held": "held",
}
LEVEL = {
    "partial_foot": "partial foot",
    "ankle_disarticulation": "ankle disarticulation",
    "transtibial": "transtibial",
    "knee_disarticulation": "knee disarticulation",
    "transfemoral": "transfemoral",
    "hip_disarticulation": "hip disarticulation",
    "transpelvic": "transpelvic",
}
#: What was done at the clinic is text as chosen on the form; these codes came from elsewhere.
INTERVENTION = {
    "suspension_switched": "Suspension switched",
    "trim_line": "Trim line changed",
    "relief": "Relief made",
    "shrinker_ordered": "Shrinker ordered",
    "wear_schedule": "Wear schedule set",
    "pad_added": "Pad added",
}


def word_of(words: Mapping[str, str], code: str) -> str:
    """The words of a code; one that is not known loses its underscores, so that none is ever shown."""
    return words.get(code) or code.replace("_", " ")


def listed(words: Mapping[str, str], codes: Iterable[str]) -> str:
    return ", ".join(word_of(words, code) for code in codes)
