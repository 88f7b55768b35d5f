"""Everything held of a person → JSON and one page to read (GDPR Art. 15 and 20).

What is exported is what would be erased: both follow the same rows.
"""

from __future__ import annotations

import base64
import html
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

Export = dict[str, Any]

HEADINGS = {
    "person": "Who you are",
    "limb": "Your limbs",
    "socket": "Sockets",
    "suspension": "Suspensions changed",
    "pad": "Pads",
    "measurement": "Measurements",
    "checkin": "Check-ins",
    "unkept": "Dangers said in check-ins that could not be kept",
    "photo": "Photos",
    "note": "Notes of the clinic",
    "intervention": "What was done",
    "outcome_measure": "How you did when it was measured",
    "said": "What was said of your limb, as it was kept then",
    "decision": "Decisions on a new socket",
    "correction": "What the clinic corrected or took out",
    "part": "Parts with a date",
    "visit": "Visits",
    "visit_change": "Visits moved or called off",
    "contact": "Calls with you",
    "letter": "Letters about you, as they were sent",
    "message": "What the clinic wrote to your phone",
    "message_event": "What became of it, and your answers",
    "assessment": "How your log was read last",
    "signal": "What the clinic was told of",
    "signal_event": "What staff did about it",
    "consent": "What you agreed to",
    "paper_consent": "What was agreed to or taken back on paper",
    "device": "Phones",
    "device_person": "Phones that may write for you",
    "push": "Reminders",
    "enrolment": "Phones that were invited",
    "erasure": "Erasure asked for",
    "stale": "Waiting to be read again",
}
STAFF_COLUMNS = frozenset({"by_staff", "clinician_id", "assigned_to", "asked_by"})
CORRECTED = ("pad", "measurement", "intervention")
SECRET_COLUMNS = frozenset({"subscription"})  # an address that lets whoever has it send to the phone


def _plain(table: str, column: str, value: Any, names: Mapping[str, str]) -> Any:
    if column in SECRET_COLUMNS:
        return "(kept back: with it others could send to the phone)"
    if column in STAFF_COLUMNS and value in names:
        return names[value]
    if isinstance(value, bytes):
        return base64.b64encode(value).decode()
    if isinstance(value, str) and value[:1] in "[{":
        try:
            return json.loads(value)
        except ValueError:
            return value
    return value


def _out(corrections: Sequence[Mapping[str, Any]]) -> set[str]:
    """Ids of records that were replaced or taken out and not put back."""
    last = {line["record_id"]: line["deed"] for line in sorted(corrections, key=lambda line: line["n"])}
    return {record_id for record_id, deed in last.items() if deed != "restore"}


def gather(
    clinic: str,
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
    lines: Iterable[Mapping[str, Any]],
    names: Mapping[str, str],
    now: datetime,
    agreements: Iterable[Mapping[str, Any]] = (),
) -> Export:
    """One document: every row by table, every line of the audit chain about the person, and who agreed to the rules
    by which their phone gives advice."""
    held = {
        table: [{column: _plain(table, column, value, names) for column, value in row.items()} for row in found]
        for table, found in rows.items()
    }
    out = _out(rows.get("correction", ()))
    for table in CORRECTED:
        for row in held.get(table, []):
            row["counts"] = "no, see what the clinic corrected" if row["id"] in out else "yes"
    seen = [
        {"at": line["at"], "who": names.get(line["who"].partition(":")[2], line["who"]), "what": line["what"]}
        for line in lines
    ]
    agreed = [
        {column: _plain("rules_agreement", column, value, names) for column, value in one.items()} for one in agreements
    ]
    return {
        "made_at": now.isoformat(),
        "clinic": clinic,
        "held": held,
        "who_looked": seen,
        "rules_agreed": agreed,
    }


def _words(value: Any) -> str:
    if value is None or value == "":
        return "–"
    if isinstance(value, list):
        return "; ".join(_words(one) for one in value) or "–"
    if isinstance(value, dict):
        return ", ".join(f"{key.replace('_', ' ')} {_words(one)}" for key, one in value.items())
    return str(value)


def _cell(table: str, column: str, value: Any) -> str:
    if table == "photo" and column == "jpeg":
        return f'<img alt="photo" width="240" src="data:image/jpeg;base64,{html.escape(str(value))}">'
    return html.escape(_words(value))


def _table(name: str, rows: Sequence[Mapping[str, Any]]) -> str:
    columns = list(rows[0])
    head = "".join(f"<th>{html.escape(column.replace('_', ' '))}</th>" for column in columns)
    body = "".join(
        "<tr>" + "".join(f"<td>{_cell(name, column, row[column])}</td>" for column in columns) + "</tr>" for row in rows
    )
    heading = html.escape(HEADINGS.get(name, name.replace("_", " ").capitalize()))
    return f"<h2>{heading}</h2><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def page(export: Export) -> str:
    """The same as one page of HTML that needs nothing else: no script, no style sheet, no address."""
    order = [name for name in HEADINGS if name in export["held"]]
    order += [name for name in export["held"] if name not in HEADINGS]
    tables = [_table(name, export["held"][name]) for name in order]
    if export["rules_agreed"]:
        tables.append(_table("Who agreed to the rules of advice on your phone", export["rules_agreed"]))
    if export["who_looked"]:
        tables.append(_table("Who read or wrote it", export["who_looked"]))
    title = f"What {html.escape(export['clinic'])} holds about you"
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title></head>'
        f"<body><h1>{title}</h1><p>Made on {html.escape(export['made_at'][:10])}.</p>{''.join(tables)}</body></html>"
    )
