"""The second thing a member of staff has: an app's code, a recovery code, a passkey. Each proof works once.

App codes by RFC 6238 (six digits, 30 seconds), passkeys by WebAuthn level 3 with the user verified by the device,
so that a passkey alone is two factors.
"""

from __future__ import annotations

import hmac
import json
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pyotp
import webauthn
from sqlite_utils import Database
from webauthn.helpers import base64url_to_bytes
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from plytide.storage.files.secrets_key import seal, unseal
from plytide.storage.ids import CODE_LETTERS
from plytide.storage.registry import second_factor
from plytide.storage.registry.second_factor import Whose

STEP_SECONDS = 30
STEPS_OFF = 1  # a clock half a minute off is let in
RECOVERY_CODES = 10
RECOVERY_LETTERS = 25  # of 23 each: 113 random bits, so that a plain hash is enough (ASVS 5.0, 6.5.2)
CHALLENGE_LASTS = timedelta(minutes=5)


class Unproven(Exception):
    """second_factor: this proof does not hold; the message is for the operator's eyes."""


@dataclass(frozen=True, slots=True)
class Site:
    """Where the app is served: what a passkey is bound to."""

    origin: str

    @property
    def host(self) -> str:
        return urlsplit(self.origin).hostname or "localhost"


def is_set_up(db: Database, whose: Whose) -> bool:
    """Whether a password alone no longer lets this member of staff in. Reads only."""
    kept = second_factor.seed(db, whose)
    return bool(kept and kept[1]) or bool(second_factor.passkeys(db, whose))


def standing(db: Database, whose: Whose) -> dict[str, Any]:
    """What is set up. Reads only."""
    kept = second_factor.seed(db, whose)
    return {
        "app": bool(kept and kept[1]),
        "passkeys": second_factor.passkeys(db, whose),
        "recovery_left": second_factor.recovery_left(db, whose),
    }


def begin_app(db: Database, data_dir: Path, whose: Whose, login: str) -> tuple[str, str]:
    """(secret, otpauth address) for an authenticator app. Asked for only from its first right code on."""
    secret = pyotp.random_base32()
    second_factor.set_seed(db, whose, seal(data_dir, secret.encode()))
    return secret, pyotp.TOTP(secret).provisioning_uri(name=login, issuer_name="Plytide")


def app_code_holds(db: Database, data_dir: Path, whose: Whose, code: str, now: datetime) -> bool:
    """Whether this is the app's code now, and has not been used. It is used up by asking."""
    kept = second_factor.seed(db, whose)
    if kept is None:
        return False
    app = pyotp.TOTP(unseal(data_dir, kept[0]).decode())
    this_step = int(now.timestamp()) // STEP_SECONDS
    for step in range(this_step - STEPS_OFF, this_step + STEPS_OFF + 1):
        if hmac.compare_digest(app.generate_otp(step).encode(), code.encode()):
            return second_factor.use_step(db, whose, step, now)
    return False


def code_holds(db: Database, data_dir: Path, whose: Whose, code: str, now: datetime) -> bool:
    """Whether `code` is the app's, or one of the recovery codes, and unused. It is used up by asking."""
    plain = "".join(code.split())
    if len(plain) == 6 and plain.isascii() and plain.isdigit():
        kept = second_factor.seed(db, whose)
        return bool(kept and kept[1]) and app_code_holds(db, data_dir, whose, plain, now)
    return second_factor.use_recovery(db, whose, code, now)


def new_recovery_codes(db: Database, whose: Whose) -> list[str]:
    """Ten codes to print; shown once, kept as hashes."""
    codes = []
    for _ in range(RECOVERY_CODES):
        letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(RECOVERY_LETTERS))
        codes.append("-".join(letters[i : i + 5] for i in range(0, RECOVERY_LETTERS, 5)))
    second_factor.set_recovery(db, whose, codes)
    return codes


# Passkeys


def begin_passkey(db: Database, site: Site, whose: Whose, login: str, now: datetime) -> tuple[str, dict[str, Any]]:
    """(challenge id, options for the browser) for a new passkey."""
    options = webauthn.generate_registration_options(
        rp_id=site.host,
        rp_name="Plytide",
        user_id=whose[1].encode(),
        user_name=login,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED, user_verification=UserVerificationRequirement.REQUIRED
        ),
        exclude_credentials=[
            PublicKeyCredentialDescriptor(id=known) for known in second_factor.credential_ids(db, whose)
        ],
    )
    challenge_id = second_factor.add_challenge(db, "register", whose[1], options.challenge, now, CHALLENGE_LASTS)
    return challenge_id, json.loads(webauthn.options_to_json(options))


def finish_passkey(
    db: Database, site: Site, whose: Whose, challenge_id: str, credential: dict[str, Any], label: str, now: datetime
) -> str:
    """Keep a new passkey; its id. Raises Unproven."""
    challenge = second_factor.take_challenge(db, "register", whose[1], challenge_id, now)
    if challenge is None:
        raise Unproven("no such challenge")
    try:
        made = webauthn.verify_registration_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=site.host,
            expected_origin=site.origin,
            require_user_verification=True,
        )
        return second_factor.add_passkey(
            db, whose, made.credential_id, made.credential_public_key, made.sign_count, label, now
        )
    except (WebAuthnException, ValueError, TypeError, KeyError, second_factor.KnownKey) as error:
        raise Unproven(type(error).__name__) from error


def begin_sign_in(db: Database, site: Site, now: datetime) -> tuple[str, dict[str, Any]]:
    """(challenge id, options for the browser) to sign in with any passkey."""
    options = webauthn.generate_authentication_options(
        rp_id=site.host, user_verification=UserVerificationRequirement.REQUIRED
    )
    challenge_id = second_factor.add_challenge(db, "sign-in", None, options.challenge, now, CHALLENGE_LASTS)
    return challenge_id, json.loads(webauthn.options_to_json(options))


def finish_sign_in(db: Database, site: Site, challenge_id: str, credential: dict[str, Any], now: datetime) -> Whose:
    """Whose passkey answered. Raises Unproven."""
    challenge = second_factor.take_challenge(db, "sign-in", None, challenge_id, now)
    if challenge is None:
        raise Unproven("no such challenge")
    try:
        known = second_factor.passkey(db, base64url_to_bytes(credential["rawId"]))
        if known is None:
            raise Unproven("unknown passkey")
        proven = webauthn.verify_authentication_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=site.host,
            expected_origin=site.origin,
            credential_public_key=known.public_key,
            credential_current_sign_count=known.sign_count,
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError, TypeError, KeyError, AttributeError) as error:
        raise Unproven(type(error).__name__) from error
    second_factor.passkey_used(db, known.id, proven.new_sign_count, now)
    return known.clinic_id, known.staff_id
