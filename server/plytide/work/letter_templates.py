"""The words of each kind of letter, until the clinic writes its own. Judgement, in the trade's plain words.

They give what was measured and logged, and leave what follows from it to whoever reads them: none diagnoses, none
orders. The closing line on every letter says so, whatever the clinic makes of these.
"""

from __future__ import annotations

HEAD = """{greeting}

For your information, as of {today}: what was measured and logged of the residual limb of {person}.

Limb: {limb}.
Socket: {socket}.
"""
WORN = """Tape by the clinic: {tape}.
Tape before that: {tape_before}.
Sock stack: {ply}.
Sock stack at the fitting: {ply_at_fitting}.
Comfort from 0 to 10, 10 is best: {comfort}.
Hours worn a day: {hours}.
"""
TAPED = """Change between the two tapes: {tape_change}.
Volume of the limb since the fitting: {volume}.
Falls: {falls}.
Skin: {skin}.
Weight: {weight}.
Weight limit of the socket: {weight_limit}.
"""
CLOSE = """
{by}
{clinic}"""

TEMPLATES = {
    "physician": f"""{HEAD}{WORN}Falls: {{falls}}.
Skin: {{skin}}.
Weight: {{weight}}.
Volume of the limb since the fitting: {{volume}}.

What follows from this for other care is for you to judge. We would be glad to hear of anything that may change the limb or the skin, such as a new medicine or a stay in hospital.
{CLOSE}""",
    "heart_team": f"""{HEAD}Weight: {{weight}}.
Weight before that: {{weight_before}}.
Volume of the limb in 28 days: {{volume_28d}}.
Volume of the limb since the fitting: {{volume}}.
Tape by the clinic: {{tape}}.
Tape before that: {{tape_before}}.
Sock stack: {{ply}}.
Hours worn a day: {{hours}}.

A limb’s volume changes for many reasons, and the figures do not say which. What they mean for the heart is for you to judge.
{CLOSE}""",
    "kidney_team": f"""{HEAD}Larger before a dialysis session than the morning after: {{dialysis_swing}}.
Weight: {{weight}}.
Weight before that: {{weight_before}}.
Volume of the limb in 28 days: {{volume_28d}}.
Sock stack: {{ply}}.
Tape by the clinic: {{tape}}.
Hours worn a day: {{hours}}.

A limb’s volume changes for many reasons, and the figures do not say which. What they mean for dialysis is for you to judge.
{CLOSE}""",
    "payer": f"""{HEAD}{WORN}{TAPED}Outcome measures: {{outcomes}}.

Patient-reported unless it says “by the clinic”. Supporting evidence only: the treating practitioner’s own record decides.
{CLOSE}""",
    "clinic": f"""{HEAD}{WORN}{TAPED}Our limits for a signal: {{limits}}.
Outcome measures: {{outcomes}}.
How the limb stands, as a signal and never a verdict: {{state}}.
Decisions on a recast: {{decision}}.
Other limb: {{other_limb}}.
{CLOSE}""",
    "handover": f"""For whoever takes over, as of {{today}}: {{person}}.

Limb: {{limb}}.
Socket: {{socket}}.
On the list: {{signals}}.
How the limb stands, as a signal and never a verdict: {{state}}.
Sock stack: {{ply}}.
Comfort from 0 to 10, 10 is best: {{comfort}}.
Skin: {{skin}}.
Last calls: {{calls}}.
Decisions on a recast: {{decision}}.
Next visit: {{next_visit}}.
Other limb: {{other_limb}}.

To do:
{CLOSE}""",
}
