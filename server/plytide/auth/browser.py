"""A browser's own words → family and platform, for the audit."""

from __future__ import annotations

BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome", "Chrome"),
    ("Safari", "Safari"),
)
SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS", "Mac"),
    ("CrOS", "Chromebook"),
    ("Linux", "Linux"),
)


def browser_words(agent: str) -> str:
    """Family and platform only, such as "Firefox on Windows": more would tell people apart who need not be."""
    browser = next((words for sign, words in BROWSERS if sign in agent), None)
    system = next((words for sign, words in SYSTEMS if sign in agent), None)
    if browser is None:
        return "unknown browser"
    return f"{browser} on {system}" if system else browser
