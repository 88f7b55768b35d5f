"""`python -m tests.mutate`: breaks one formula or safeguard after another in a copy and names the test that fails.

Not part of the suite: it runs the tests some sixty times. The copy is made anew; the working tree is
never touched. Exit 1 if a break goes unnoticed.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENGINE = ("tests/core", "tests/test_assessment.py", "tests/test_line_volume.py", "tests/test_replay.py")
FAILED = re.compile(r"^FAILED (\S+)", re.M)


@dataclass(frozen=True, slots=True)
class Break:
    """`old` occurs in `file` exactly once and is replaced by `new`."""

    file: str
    old: str
    new: str
    tests: tuple[str, ...] = ENGINE


WAY_IN = (
    "tests/trust/test_new_passwords.py",
    "tests/trust/test_password_mail.py",
    "tests/trust/test_pace.py",
    "tests/trust/test_audit.py",
)
CORE = "server/plytide/core/"
STORE = "server/plytide/store/"
ACCESS = "server/plytide/access.py"
BREAKS = (
    Break(CORE + "thickness.py", "1: (0.7, 0.105)", "1: (0.75, 0.105)"),
    Break(CORE + "limb_volume.py", "/ (12 * math.pi)", "/ (4 * math.pi)"),
    Break(
        CORE + "observation.py",
        "scale = 1.0 / np.sqrt(var + soft * soft)\n    alpha",
        "scale = 1.0 / np.sqrt(var)\n    alpha",
    ),
    Break(
        CORE + "observation.py",
        "(alpha * ea - beta * eb) * (k * scale) + g * g",
        "(alpha * ea - beta * eb) * (k * scale)",
    ),
    Break(CORE + "observation.py", "+ lapse + 1e-12", "+ 1e-12"),
    Break(
        CORE + "observation.py",
        "(good_before + 3.0) / (told_before + 5.0)",
        "(good_before + 5.0) / (told_before + 5.0)",
    ),
    Break(CORE + "observation.py", "STAY = 0.15", "STAY = 0.6"),
    Break(CORE + "observation.py", "unanswered, OPEN,", "unanswered, reach_up + BEYOND,"),
    Break(CORE + "observation.py", "np.where(prefilled, LAPSE_PREFILLED, lapse)", "lapse"),
    Break(CORE + "observation.py", "np.where(echo, LAPSE_ECHO, LAPSE)", "np.where(echo, LAPSE, LAPSE)"),
    Break(CORE + "settling.py", "tau * -np.expm1(", "-np.expm1("),
    Break(CORE + "settling.py", "log_time = age / (age + ahead)", "log_time = age / (age + 2 * ahead)"),
    Break(CORE + "settling.py", "age * np.log1p(", "0.9 * age * np.log1p("),
    Break(CORE + "settling.py", "PER_LN_WEEK = 0.097", "PER_LN_WEEK = 0.087"),
    Break(CORE + "trend.py", "p[D, D] += bank.level_noise**2", "p[D, D] += bank.level_noise"),
    Break(CORE + "trend.py", "p[R, R] += bank.rate_noise**2", "p[R, R] += 0.0 * bank.rate_noise"),
    Break(CORE + "trend.py", "bank.wobble**2 * (1.0 - bank.rho**2)", "bank.wobble**2 * (1.0 - bank.rho)"),
    Break(CORE + "trend.py", "p[:, :, pick] = var - (m * h)", "p[:, :, pick] = var - 0.9 * (m * h)"),
    Break(CORE + "trend.py", "log_weight[pick] += np.log(z + JUMP_CHANCE)", "log_weight[pick] += 0.0 * z"),
    Break(CORE + "trend.py", "0.5 * (np.log(f) + v * v / f)", "0.5 * (v * v / f)"),
    Break(CORE + "trend.py", "a[:, at] += m * (v / f)", "a[:, at] += m * (v / f) * 0.9"),
    Break(CORE + "trend.py", "PART = (-0.5, 0.0, 0.5)", "PART = (-0.5, 0.2, 0.5)"),
    Break(CORE + "trend.py", "(k + 1) * angle)\n        h[6", "(k + 2) * angle)\n        h[6"),
    Break(CORE + "trend.py", "limbs.age[:, None], 28.0)\n    a, p", "limbs.age[:, None], 27.0)\n    a, p"),
    Break(CORE + "trend.py", "2.0 * p[D, B, who]", "1.0 * p[D, B, who]"),
    Break(CORE + "change.py", "self.left[R] *= fade[:, None]", "pass"),
    Break(CORE + "trend.py", "a[:, limb] += jump * lag[:, None]", "a[:, limb] += 0.0 * lag[:, None]"),
    Break(CORE + "trend.py", "p[B, B, starts.pad_limb[row]] += starts.pad_sd[row] ** 2", "pass"),
    Break(CORE + "change.py", "np.log(z[:, 1:] / z[:, :1])", "np.log(z[:, 1:])"),
    Break(CORE + "change.py", "((g[:, 1:] - g[:, :1]) / self.jump)", "((g[:, 1:] - g[:, :1]) / 1.0)"),
    Break(CORE + "change.py", "peak + np.log(summed / sizes)", "peak + np.log(summed)"),
    Break(CORE + "change.py", "tuning.alarm_slope * np.log", "0.0 * np.log"),
    Break(CORE + "steady.py", "count >= hold", "count >= 1"),
    Break(CORE + "steady.py", "(tail[day] < leave)", "(tail[day] < enter)"),
    Break(CORE + "steady.py", "tail = np.maximum(above, below)", "tail = above"),
    Break(CORE + "outlook.py", "TAIL = 0.05", "TAIL = 0.06"),
    Break(CORE + "outlook.py", "centre - 1.6448536 * spread", "centre - 1.5 * spread"),
    Break(CORE + "outlook.py", "later = age[:, None] + h", "later = age[:, None]"),
    Break(CORE + "outlook.py", "inside = normal_cdf((bound - rate) / rate_sd) -", "inside = 1.0 -"),
    Break(
        "server/plytide/assessment.py",
        "rate * unit, s.var_r * unit**2 + noise * 28",
        "rate * unit, s.var_r * unit + noise * 28",
    ),
    Break(
        "server/plytide/assessment.py",
        "((1.0 - min(mm / radius, 0.95)) ** 2 - 1.0)",
        "(1.0 - 2.0 * min(mm / radius, 0.95) - 1.0)",
    ),
    Break("server/plytide/assessment.py", "extra = 1.645 * scale_sd", "extra = 0.0 * scale_sd"),
    Break(
        "server/plytide/assessment.py",
        "centre[:, None] + tails * spread[:, None]",
        "centre[:, None] + 0.5 * tails * spread[:, None]",
    ),
    Break(
        "server/plytide/assessment.py",
        "tape_sd_share * radius_mm(histories[i]) / 2.0",
        "tape_sd_share * radius_mm(histories[i])",
    ),
    Break(
        "server/plytide/assessment.py", "settling.expected_loss(age[i] / 7.0)", "settling.expected_loss(age[i] / 14.0)"
    ),
    Break("server/plytide/review.py", "unknown = set(turns[reached:])", "unknown = set()"),
    Break(ACCESS, "if request.endpoint not in OPEN_WITH_A_FIRST_PASSWORD and", "if False and", WAY_IN),
    Break(
        ACCESS,
        "if first_until is not None and first_until <=",
        "if first_until is None and str(first_until) <=",
        WAY_IN,
    ),
    Break(ACCESS, "    registry().end_sessions(*whose)\n", "", WAY_IN),
    Break(
        ACCESS, "        _count_failure(tries)\n        raise _no_such_code()", "        raise _no_such_code()", WAY_IN
    ),
    Break(ACCESS, 'headers.get("User-Agent", "")[:400]', 'headers.get("User", "")[:400]', WAY_IN),
    Break(
        STORE + "factors.py",
        '"DELETE FROM password_code WHERE code_hash = ? AND expires_at > ?"',
        '"UPDATE password_code SET code_hash = code_hash WHERE code_hash = ? AND expires_at > ?"',
        WAY_IN,
    ),
    Break(
        STORE + "factors.py",
        "(digest(secret), *whose, (now + lasts).isoformat())",
        "(secret, *whose, (now + lasts).isoformat())",
        WAY_IN,
    ),
    Break(STORE + "audit.py", "(*parts, device) if device else parts", "parts", WAY_IN),
    Break("server/plytide/passphrases.py", "    if is_known(password):", "    if False:", WAY_IN),
    Break("server/plytide/passphrases.py", "< FEWEST_GUESSES", "< 0", WAY_IN),
    Break("server/plytide/passphrases.py", "if left != _plain(password) and", "if False and", WAY_IN),
    Break("server/plytide/pace.py", "asked.append((of_heavy", "str((of_heavy", WAY_IN),
    Break("server/plytide/pace.py", '(of_address, "address", address), ', "", WAY_IN),
    Break("server/plytide/pace.py", "or _is_here(address)", "or bool(_is_here(address) or True)", WAY_IN),
)


def copy_of_the_project(to: Path) -> None:
    for part in ("server", "seed_demo", "tests", "web", "pyproject.toml"):
        source = ROOT / part
        if source.is_dir():
            shutil.copytree(source, to / part, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, to / part)


def run(at: Path, tests: tuple[str, ...]) -> tuple[bool, list[str], str]:
    """(passed, names of tests that failed, the end of what was printed)."""
    path = os.pathsep.join((str(at / "server"), str(at)))
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests]
    done = subprocess.run(
        command, cwd=at, env={**os.environ, "PYTHONPATH": path, "OMP_NUM_THREADS": "1"}, capture_output=True, text=True
    )
    return done.returncode == 0, FAILED.findall(done.stdout), (done.stdout + done.stderr)[-400:]


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="mutate", description=__doc__)
    parser.add_argument("--only", default="", help="breaks whose file or text holds this")
    parser.add_argument("--first", type=int, default=0, help="begin with this break")
    given = parser.parse_args(argv)
    unnoticed = 0
    with tempfile.TemporaryDirectory() as made:
        at = Path(made)
        copy_of_the_project(at)
        for number, each in enumerate(BREAKS):
            if number < given.first or given.only not in each.file + each.old:
                continue
            file = at / each.file
            whole = file.read_text()
            if whole.count(each.old) != 1:
                raise SystemExit(f"{each.file}: {each.old!r} occurs {whole.count(each.old)} times")
            file.write_text(whole.replace(each.old, each.new))
            passed, names, told = run(at, each.tests)
            file.write_text(whole)
            unnoticed += passed
            what = "UNNOTICED" if passed else names[0] if names else f"broken: {told.strip()}"
            print(f"{number:3} {each.file.rsplit('/', 1)[-1]:16} {each.old.splitlines()[0][:50]:50} {what}", flush=True)
    print(f"{unnoticed} unnoticed")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
