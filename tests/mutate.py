"""`python -m tests.mutate`: breaks one formula or safeguard after another in a copy and names the test that fails.

Not part of the suite: it runs the tests some ninety times. The copy is made anew; the working tree is never touched.
Exit 1 if a break goes unnoticed. With `--check` nothing is run: only that each break still meets its line, once.
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
ENGINE = (
    "tests/engine/core",
    "tests/engine/test_volume.py",
    "tests/engine/test_line_volume.py",
    "tests/engine/test_replay.py",
)
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
    "tests/trust/test_rate_limit.py",
    "tests/trust/test_audit.py",
)
DANGER = ("tests/engine/test_dangers.py", "tests/engine/test_safety.py")
GROWTH = ("tests/engine/test_growth.py",)
SESSIONS = ("tests/engine/test_sessions.py",)
KEPT = ("tests/engine/test_kept.py",)
SHAPE = ("tests/engine/core/test_shape.py",)
SCALE = ("tests/engine/test_line_volume.py", "tests/engine/test_volume.py")
SIGNALS = ("tests/http/test_signals.py",)
CORE = "server/plytide/engine/core/"
STORE = "server/plytide/storage/"
REGISTRY = STORE + "registry/"
WORK = "server/plytide/work/"
VOLUME = "server/plytide/engine/volume/"
DANGERS = "server/plytide/engine/dangers.py"
AUTH = "server/plytide/auth/"
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
    Break(CORE + "trend.py", "a[:, at] += m * (v / f)", "a[:, at] += m * (v / f) * 0.9"),
    Break(CORE + "trend.py", "PART = (-0.5, 0.0, 0.5)", "PART = (-0.5, 0.2, 0.5)"),
    Break(
        CORE + "trend.py",
        "(k + 1) * angle)\n            h[layout.weekly + 2 * k + 1",
        "(k + 2) * angle)\n            h[layout.weekly + 2 * k + 1",
    ),
    Break(CORE + "trend.py", "limbs.age[:, None], 28.0)\n    a, p", "limbs.age[:, None], 27.0)\n    a, p"),
    Break(CORE + "day_end.py", "2.0 * p[D, B, who]", "1.0 * p[D, B, who]"),
    Break(CORE + "trend.py", "p[:, k, limb] += p[:, D, limb]", "pass"),
    Break(CORE + "trend.py", "a[k, limb] += a[D, limb]", "pass"),
    Break(CORE + "trend.py", "states = (D, W, layout.offset)", "states = (D, layout.offset)"),
    Break(CORE + "trend.py", "p[layout.offset, layout.offset, at] += (moved**2)[:, None]", "pass"),
    Break(CORE + "trend.py", "np.sqrt(sd**2 + (odd - 1.0) * spread)", "sd"),
    Break(CORE + "day_end.py", "2.0 * p[D, earlier, who]", "0.0 * p[D, earlier, who]"),
    Break(CORE + "change.py", "(off[:, None] - 0.5 * shift)", "(off[:, None] - shift)"),
    Break(CORE + "shape.py", "min(ordered[n + 1 :]", "min(ordered[n + 1 : n + 2]"),
    Break(VOLUME + "numbers.py", "s.var_r * lost**2", "s.var_r * lost"),
    Break(
        "server/plytide/engine/series.py",
        "mm + (then - girth) / (2 * math.pi)",
        "(then - girth) / (2 * math.pi)",
        (*ENGINE, "tests/engine/test_series.py"),
    ),
    Break(CORE + "limb_volume.py", "return ONE_HAND if one_hand else TWO_HANDS", "return ONE_HAND"),
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
    Break(CORE + "outlook.py", "reach(law, tau, age + h, days)", "reach(law, tau, age, days)"),
    Break(CORE + "outlook.py", "inside = normal_cdf((bound - self.rate) / self.rate_sd) -", "inside = 1.0 -"),
    Break(CORE + "outlook.py", "(chance - today) / np.maximum(1.0 - today, TAIL / 10)", "chance"),
    Break(CORE + "outlook.py", "KNOWN = 0.8", "KNOWN = 0.0"),
    Break(CORE + "settling.py", "exponential = -tau * np.log1p(", "exponential = -np.log1p("),
    Break(CORE + "good_fit.py", "- begins_now[..., None]", "- 0.0 * begins_now[..., None]"),
    Break(CORE + "good_fit.py", "so_far + aim.band / speed", "aim.band / speed"),
    Break(CORE + "good_fit.py", "slope = believed.shared / believed.var_rate", "slope = 0.0 * believed.shared"),
    Break(CORE + "good_fit.py", "start = np.array([plans[k][n] + aim.delivery", "start = np.array([plans[k][n] + 0"),
    Break(CORE + "kept.py", "if each < differs and each < last", "if each < last", KEPT),
    Break(CORE + "kept.py", 'known["age"] = known["age"] + begin', "pass", KEPT),
    Break(CORE + "change.py", "getattr(state, name).copy() for name", "0.0 * getattr(state, name) for name", KEPT),
    Break(
        VOLUME + "numbers.py",
        "rate * unit, s.var_r * unit**2 + noise * 28",
        "rate * unit, s.var_r * unit + noise * 28",
    ),
    Break(
        VOLUME + "percent.py",
        "((1.0 - min(mm / radius, 0.95)) ** 2 - 1.0)",
        "(1.0 - 2.0 * min(mm / radius, 0.95) - 1.0)",
    ),
    Break(VOLUME + "percent.py", "extra = 1.645 * scale_sd", "extra = 0.0 * scale_sd"),
    Break(
        VOLUME + "numbers.py",
        "centre[:, None] + tails * spread[:, None]",
        "centre[:, None] + 0.5 * tails * spread[:, None]",
    ),
    Break(
        VOLUME + "told.py",
        "own = constants.tape_sd_share * log.radius",
        "own = constants.tape_sd_share * log.radius / 2.0",
    ),
    Break(
        VOLUME + "told.py",
        "settling.expected_loss(age[i] / 7.0)",
        "settling.expected_loss(age[i] / 14.0)",
    ),
    Break("server/plytide/engine/assess.py", "unknown = set(turns[reached:])", "unknown = set()"),
    Break(AUTH + "guards.py", 'if caller.still_without != "own password" and', "if False and", WAY_IN),
    Break(
        AUTH + "session.py",
        "if first_until is not None and first_until <=",
        "if first_until is None and str(first_until) <=",
        WAY_IN,
    ),
    Break(AUTH + "password_change.py", "    registry().end_sessions(*whose)\n", "", WAY_IN),
    Break(
        AUTH + "password_change.py",
        "    claim(tries)\n    whose = factors",
        "    whose = factors",
        WAY_IN,
    ),
    Break(AUTH + "call.py", 'headers.get("User-Agent", "")[:400]', 'headers.get("User", "")[:400]', WAY_IN),
    Break(
        REGISTRY + "second_factor.py",
        '"DELETE FROM password_code WHERE code_hash = ? AND expires_at > ?"',
        '"UPDATE password_code SET code_hash = code_hash WHERE code_hash = ? AND expires_at > ?"',
        WAY_IN,
    ),
    Break(
        REGISTRY + "second_factor.py",
        "(digest(secret), *whose, (now + lasts).isoformat())",
        "(secret, *whose, (now + lasts).isoformat())",
        WAY_IN,
    ),
    Break(STORE + "audit.py", "(*parts, device) if device else parts:", "parts:", WAY_IN),
    Break("server/plytide/auth/passwords.py", "    if is_known(password):", "    if False:", WAY_IN),
    Break("server/plytide/auth/passwords.py", "< FEWEST_GUESSES", "< 0", WAY_IN),
    Break("server/plytide/auth/passwords.py", "if left != _plain(password) and", "if False and", WAY_IN),
    Break(AUTH + "rate_limit.py", "asked.append((of_heavy", "str((of_heavy", WAY_IN),
    Break(AUTH + "rate_limit.py", '(of_address, "address", where),', "", WAY_IN),
    Break(AUTH + "rate_limit.py", "or is_here(address)", "or bool(is_here(address) or True)", WAY_IN),
    # One scale for the limb, whatever sockets were worn; what a tape says on it.
    Break(
        VOLUME + "views.py",
        'limb_change_pct=pct_estimate(numbers["limb"]',
        'limb_change_pct=pct_estimate(numbers["change"]',
        SCALE,
    ),
    Break(
        VOLUME + "column.py",
        "limb_band = self._band(track.limb[:, i], track.limb_sd[:, i]",
        "limb_band = self._band(track.change[:, i], track.change_sd[:, i]",
        SCALE,
    ),
    Break(VOLUME + "column.py", "gone = float(level[t] - level[t - 28])", "gone = float(level[t])", SCALE),
    Break(VOLUME + "column.py", "now * now + then * then - now * then", "now * now", SCALE),
    Break(
        VOLUME + "percent.py",
        "(now + 2 * math.pi * mm_less)",
        "(now + math.pi * mm_less)",
        SCALE,
    ),
    Break(VOLUME + "told.py", "moved = math.hypot(habit, 0.0 if tape.same_hand else other_hand)", "moved = 0.0", SCALE),
    Break(
        VOLUME + "tapes.py",
        "limit_pct=share_pct(limb_volume.tape_limit(tape.same_hand))",
        "limit_pct=share_pct(limb_volume.tape_limit(True))",
        SCALE,
    ),
    # What can't be drawn out of a stiff socket.
    Break(CORE + "shape.py", "pair.below[1] > WIDER_SHARE * pair.above[1]", "pair.below[1] > pair.above[1]", SHAPE),
    Break(CORE + "shape.py", "ordered = sorted(levels)", "ordered = list(levels)", SHAPE),
    Break(CORE + "shape.py", "key=lambda pair: pair.below[1] / pair.above[1]", "key=lambda pair: pair.below[1]", SHAPE),
    # Room that a growing limb uses up.
    Break(CORE + "room.py", "math.hypot(sd, own)", "sd", GROWTH),
    Break(CORE + "room.py", "(room + mean) / spread", "(room - mean) / spread", GROWTH),
    Break(CORE + "room.py", "m0 + share * (m1 - m0)", "m0", GROWTH),
    # What falls over a dialysis session.
    Break(CORE + "sessions.py", "stdtrit(n - 1, 0.95)", "stdtrit(n - 1, 0.9)", SESSIONS),
    Break(CORE + "sessions.py", "max(stdev(differences), least_sd)", "stdev(differences)", SESSIONS),
    Break(CORE + "sessions.py", "if n < LEAST_PAIRS:", "if n < 2:", SESSIONS),
    # Safety: a rule that is dropped, looks that clear too early or never, signs of danger that are not asked.
    Break(
        DANGERS,
        "return [_Reports(rule, told, clear, self, redness_minutes) for rule, told in by_rule.values()]",
        "return [_Reports(rule, told, clear, self, redness_minutes) for rule, told in [*by_rule.values()][1:]]",
        DANGER,
    ),
    Break(DANGERS, ") < CLEAR_DAYS", ") < 99 * CLEAR_DAYS", DANGER),
    Break(
        DANGERS, "sum(_can_clear(look, report) for look in self.clear[low:high]) < CLEAR_DAYS", "high == low", DANGER
    ),
    Break(DANGERS, 'if self.rule["level"] != "heart_team":', "if True:", ("tests/http/test_found_by_trying.py",)),
    Break(DANGERS, "one.skin_checked and one.date not in spoken", "one.date not in spoken", DANGER),
    Break(DANGERS, "(one.signs_checked or one.date < asked)", "True", DANGER),
    Break(DANGERS, "look.received_on > report.received_on", "True", DANGER),
    Break(
        "server/plytide/engine/safety.py",
        'return tuple(_file(RULES_FILE)["danger_signs"])',
        "return ()",
        DANGER,
    ),
    Break(
        "server/plytide/engine/safety.py",
        "return clinic_minutes / 2 if CAREFUL & set(limb.tags) else clinic_minutes",
        "return clinic_minutes",
        DANGER,
    ),
    # What happens to a signal, and which assessment is shown.
    Break(WORK + "signal_life.py", 'bool(set(signal.evidence) - set(same["evidence"]))', "False", SIGNALS),
    Break(
        WORK + "signal_life.py",
        'Step(row["id"], "no-longer-seen", {"holds": 0})',
        'Step(row["id"], None, {"status": "closed"})',
        SIGNALS,
    ),
    Break(
        WORK + "signal_actions.py", '(last["event"], last["by"]) != (mine, staff_id)', 'last["event"] != mine', SIGNALS
    ),
    Break(
        WORK + "corrections.py",
        "if corrections.standing_kin(db, record.id) - {heir}:",
        "if False:",
        ("tests/http/test_corrections.py",),
    ),
    Break(
        STORE + "assessment.py",
        "AND NOT EXISTS (SELECT 1 FROM stale WHERE stale.limb_id = ?1)",
        "",
        ("tests/http/test_assessed_once.py",),
    ),
)


def stale_breaks() -> list[str]:
    """Breaks that no longer meet exactly one place, and tests that are no longer there, in words."""
    wrong = []
    for each in BREAKS:
        file = ROOT / each.file
        count = file.read_text().count(each.old) if file.is_file() else 0
        if count != 1:
            wrong.append(f"{each.file}: {each.old!r} occurs {count} times")
        wrong += [f"{each.file}: {test} is not there" for test in each.tests if not (ROOT / test).exists()]
    return wrong


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
    parser.add_argument("--check", action="store_true", help="run nothing: does each break still meet its line?")
    given = parser.parse_args(argv)
    if wrong := stale_breaks():
        print("\n".join(wrong))
        return 1
    if given.check:
        print(f"{len(BREAKS)} breaks, each meets one place")
        return 0
    unnoticed = 0
    with tempfile.TemporaryDirectory() as made:
        at = Path(made)
        copy_of_the_project(at)
        for number, each in enumerate(BREAKS):
            if number < given.first or given.only not in each.file + each.old:
                continue
            file = at / each.file
            whole = file.read_text()
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
