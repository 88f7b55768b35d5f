"""How long a script's lines are without what they show: texts, templates and expressions to search by."""

from __future__ import annotations

QUOTES = "'\""
BEFORE_SEARCH = "(,=:[!&|?{};+>\n"  # what stands before a slash that begins an expression, and no division


def lengths(script: str) -> list[int]:
    """Of each line, what is code or comment; 0 for a line that has part of a template."""
    script += "\n"
    found, line, at, before = [0] * script.count("\n"), 0, 0, ""
    inside: list[str] = []  # "`" in a template's text, "{" in braces, of a template's or of the code

    while at < len(script):
        one, start = script[at], at
        in_text = inside[-1:] == ["`"]
        if in_text or one == "`":
            found[line] = -10_000
        if one == "\n":
            line, at = line + 1, at + 1
            continue
        if in_text:
            at += 2 if one == "\\" or script.startswith("${", at) else 1
            if one == "`":
                inside.pop()
            elif script.startswith("${", start):
                inside.append("{")
            continue
        if script.startswith("//", at):
            at = script.index("\n", at)
        elif script.startswith("/*", at):
            at, start = script.index("*/", at) + 2, at
            for further, part in enumerate(script[start:at].split("\n")):
                line += further > 0
                found[line] += len(part)
            start = at
        elif one in QUOTES:
            at = start = ends(script, at, one)
        elif one == "/" and before in BEFORE_SEARCH:
            at = start = ends(script, at, "/")
        else:
            at += 1
            if one == "`" or one == "{":
                inside.append(one)
            elif one == "}" and inside:
                inside.pop()
        found[line] += at - start
        before = before if one == " " else one
    return [max(each, 0) for each in found]


def ends(script: str, at: int, mark: str) -> int:
    """Behind a text or an expression that begins here with its mark; in brackets of an expression the mark is plain."""
    plain, at = False, at + 1
    while script[at] != mark or plain:
        if mark == "/" and script[at] in "[]":
            plain = script[at] == "["
        at += 2 if script[at] == "\\" else 1
    return at + 1
