"""The steps of making a socket that a clinic begins with. Short and generic; each clinic rewrites them.

They are common practice of the trade and judgement, from no maker's process: the maker's instructions come first.
"""

from __future__ import annotations

from typing import Any

from plytide.wire.making import ASKS, Step

BEFORE, DURING, AFTER = "before", "during", "after"

_FIRST = (
    ("instructions", "The maker’s instructions for these materials are at hand and read"),
    ("tape", "Tape at all levels, entered today"),
)
_LIMB = (
    ("skin", "Skin"),
    ("scar", "Scars"),
    ("weight", "Body weight, weighed today"),
    ("limit", "Weight limit of the weakest part, by its maker"),
    ("length", "Length of the limb"),
    ("pin_least", "For a pin: the least length its maker wants"),
    ("contracture", "Contracture of the joint above: looked at, alignment planned for it"),
    ("hand", "Hands: can put on the liner, work the lock or valve, feel the socks"),
    ("outlook", "Volume outlook read: what the limb will do in the coming weeks"),
)
_WARM = (
    ("feeling", "Feeling for warmth"),
    ("heat2", "Second check of heat: how and by whom"),
)
_LAST = (
    ("fit", "Fit looked at standing and walking: total contact, no gap at the rim, no bony point"),
    ("comfort", "Comfort at the fitting"),
    ("marks", "Taken off after walking, skin looked at; redness fades"),
    ("stack", "Sock stack at the fitting counted, to be entered with the socket"),
    ("wear", "First wear schedule agreed"),
    ("clock", "When it becomes the definitive one, and what would bring that forward, is said"),
    ("bring", "What to bring next time is said: socks worn, liner, shoes"),
    ("danger", "Shown when to take it off and whom to call"),
)

_STEPS: dict[str, dict[str, tuple[tuple[str, str], ...]]] = {
    "direct": {
        BEFORE: (*_FIRST, ("shape", "Shape: whether a socket made on it draws off"), *_LIMB, *_WARM),
        DURING: (
            ("liner", "Liner donned, no air, end in place; protected as the maker says"),
            ("pads", "Pads over bony points, by place and thickness, entered"),
            ("attach", "Lock, valve or other suspension attached and in line"),
            ("reliefs", "Reliefs where pressure is not borne"),
            ("form", "Material put on and formed; the limb held as planned"),
            ("cure", "Set, for as long as the maker says; warmth asked about throughout"),
            ("off", "Drawn off, inside looked at and smooth"),
            ("trim", "Trim lines cut, edges smooth"),
            ("bench", "Alignment: on the bench, standing, walking"),
        ),
        AFTER: _LAST,
    },
    "cast": {
        BEFORE: (*_FIRST, ("shape", "Shape of the limb"), *_LIMB),
        DURING: (
            ("liner", "Liner or wrap donned, no air"),
            ("marks_bony", "Bony points and landmarks marked"),
            ("cast", "Cast taken, in the position planned"),
            ("modify", "Model modified: reliefs, areas that bear, volume by tape"),
            ("check", "Check socket or model measured against the tape"),
            ("make", "Socket made, by the maker’s instructions"),
            ("attach", "Lock, valve or other suspension attached and in line"),
            ("trim", "Trim lines cut, edges smooth"),
            ("bench", "Alignment: on the bench, standing, walking"),
        ),
        AFTER: _LAST,
    },
    "digital": {
        BEFORE: (*_FIRST, ("shape", "Shape of the limb"), *_LIMB),
        DURING: (
            ("liner", "Liner or scanning sleeve donned, no air"),
            ("scan", "Shape captured, in the position planned; checked against the tape at two levels"),
            ("modify", "Shape modified: reliefs, areas that bear, volume by tape"),
            ("made_by", "Made or ordered; which file and which version is written down"),
            ("check", "What came measured against the file"),
            ("attach", "Lock, valve or other suspension attached and in line"),
            ("trim", "Trim lines, edges smooth"),
            ("bench", "Alignment: on the bench, standing, walking"),
        ),
        AFTER: _LAST,
    },
}
BRING = "The socks worn, the liner, the shoes worn most."
WEAR = [1, 2, 3, 4, 6, 8]  # hours on each day from the fitting: judgement; the clinic's own list counts before it


def ours(made: str) -> dict[str, Any]:
    """The list a clinic begins with."""
    steps: list[Step] = [
        {"code": code, "phase": phase, "text": text} for phase, lines in _STEPS[made].items() for code, text in lines
    ]
    return {
        "steps": steps,
        "instructions": "",
        "url": None,
        "pin_least_mm": None,
        "limit_kg": None,
        "bring": BRING,
        "wear": WEAR,
    }


def kept(made: str) -> frozenset[str]:
    """Steps that can be reworded, and not taken out: what they ask for stops the making."""
    codes = {step["code"] for step in ours(made)["steps"]}
    return frozenset(codes & {code for code, ask in ASKS.items() if ask.stops})
