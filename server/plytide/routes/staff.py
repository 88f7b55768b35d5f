"""What staff do about their own way in, and what a manager does about others'."""

from __future__ import annotations

from datetime import timedelta

import segno
from flask import Blueprint, Response

from plytide import access, founding, notify, passphrases, second_factor
from plytide.access import Denied, clinic_db, not_found, own, registry, settings, who
from plytide.routes.body import answer, json_object
from plytide.store import audit, factors, staff
from plytide.store.registry import LoginTaken, session_name
from plytide.store.sqlite import write
from plytide.wire.clinic import read
from plytide.wire.staff import CodeSchema, MailSchema, NewPasswordSchema, PasskeySchema, PasswordSchema, StaffSchema

bp = Blueprint("staff", __name__, url_prefix="/api/clinic")


def record(what: str, subject: str = "", detail: str = "") -> None:
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", what, subject, detail)


# Second factors


@bp.get("/second-factor")
@access.clinic()
def standing() -> Response:
    """Which second factors are set up, and how many recovery codes are left."""
    return answer(second_factor.standing(registry().db, own()))


@bp.post("/second-factor/app")
@access.clinic()
def begin_app() -> Response:
    """A seed for an authenticator app; nothing is asked for until its first code was right."""
    access.confirm_password(read(PasswordSchema(), json_object())["password"])
    if second_factor.standing(registry().db, own())["app"]:
        words = "An app is set up already. Remove it first."
        raise Denied(422, "invalid", words, fields={"password": [words]})
    secret, address = second_factor.begin_app(registry().db, settings().data_dir, own(), who().login)
    picture = segno.make(address, error="m").svg_inline(scale=5, border=4, omitsize=True, svgclass="qr", lineclass=None)
    record("second-factor.begin")
    return answer({"secret": secret, "uri": address, "qr_svg": picture}, 201)


@bp.post("/second-factor/app/confirm")
@access.clinic()
def confirm_app() -> Response:
    """The app's first code; from now on a code is asked for. Recovery codes are shown this once."""
    code = "".join(read(CodeSchema(), json_object())["code"].split())
    registry_db, now = registry().db, settings().now()
    access.hold_back_codes()
    if not second_factor.app_code_holds(registry_db, settings().data_dir, own(), code, now):
        access.count_wrong_code()
        words = "This is not the app's code just now. Check the phone's clock."
        raise Denied(422, "invalid", words, fields={"code": [words]})
    codes = second_factor.new_recovery_codes(registry_db, own())
    record("second-factor.add", "", "app")
    return answer({"recovery_codes": codes})


@bp.post("/second-factor/app/remove")
@access.clinic()
def remove_app() -> Response:
    """The app's codes are no longer asked for."""
    access.confirm_password(read(PasswordSchema(), json_object())["password"])
    factors.drop_seed(registry().db, own())
    record("second-factor.remove", "", "app")
    return answer(second_factor.standing(registry().db, own()))


@bp.post("/second-factor/recovery")
@access.clinic()
def renew_recovery() -> Response:
    """Ten new recovery codes; the earlier ones stop working."""
    access.confirm_password(read(PasswordSchema(), json_object())["password"])
    codes = second_factor.new_recovery_codes(registry().db, own())
    record("second-factor.recovery")
    return answer({"recovery_codes": codes})


@bp.post("/passkeys/options")
@access.clinic()
def begin_passkey() -> Response:
    """What the browser needs to make a passkey."""
    access.confirm_password(read(PasswordSchema(), json_object())["password"])
    challenge_id, options = second_factor.begin_passkey(
        registry().db, access.site(), own(), who().login, settings().now()
    )
    return answer({"challenge_id": challenge_id, "options": options})


@bp.post("/passkeys")
@access.clinic()
def add_passkey() -> Response:
    """Keep the passkey the browser made. The first second factor brings recovery codes."""
    given = read(PasskeySchema(), json_object())
    db = registry().db
    try:
        passkey_id = second_factor.finish_passkey(
            db, access.site(), own(), given["challenge_id"], given["credential"], given["label"], settings().now()
        )
    except second_factor.Unproven as error:
        words = "This passkey could not be checked. Begin again."
        raise Denied(422, "invalid", words, fields={"credential": [words]}) from error
    codes = second_factor.new_recovery_codes(db, own()) if not factors.recovery_left(db, own()) else []
    record("second-factor.add", "", "passkey")
    return answer({"id": passkey_id, "recovery_codes": codes}, 201)


@bp.post("/passkeys/<passkey_id>/remove")
@access.clinic()
def remove_passkey(passkey_id: str) -> Response:
    """This passkey opens nothing any longer."""
    access.confirm_password(read(PasswordSchema(), json_object())["password"])
    if not factors.drop_passkey(registry().db, own(), passkey_id):
        raise not_found()
    record("second-factor.remove", "", "passkey")
    return answer({"id": passkey_id, "removed": True})


# Sessions and passwords


@bp.get("/sessions")
@access.clinic()
def sessions() -> Response:
    """Where this member of staff is signed in."""
    rows = registry().sessions(*own(), settings().now(), access.idle_time())
    here = session_name(access.cookie() or "")
    return answer({"sessions": [row | {"this": row["id"] == here} for row in rows]})


@bp.delete("/sessions/<session_id>")
@access.clinic()
def end_session(session_id: str) -> Response:
    """End one of one's own sessions."""
    if not registry().end_sessions(*own(), only=session_id):
        raise not_found()
    record("session.end", "", "one of the others")
    return answer({"ended": 1})


@bp.post("/sessions/end-others")
@access.clinic()
def end_others() -> Response:
    """End all of one's own sessions but this."""
    ended = registry().end_sessions(*own(), keep=access.cookie() or "")
    record("session.end", "", f"{ended} others")
    return answer({"ended": ended})


@bp.put("/password")
@access.clinic()
def change_password() -> Response:
    """A new password; every other session ends."""
    given = read(NewPasswordSchema(), json_object())
    access.confirm_password(given["password"])
    row = staff.one(clinic_db(), who().id)
    if row is None:
        raise not_found()
    access.check_new_password(row, given["new_password"])
    if given["new_password"] == given["password"] and factors.first_password(registry().db, own()):
        words = "This is the password you were given. Choose your own."
        raise Denied(422, "invalid", words, fields={"new_password": [words]})
    hashed = access.passwords.hash(given["new_password"])
    with write(clinic_db()) as db:
        staff.set_password(db, who().id, hashed)
        audit.record(db, settings().now(), f"staff:{who().id}", "password.change", f"staff:{who().id}")
    factors.password_is_own(registry().db, own())
    ended = registry().end_sessions(*own(), keep=access.cookie() or "")
    return answer({"changed": True, "ended": ended})


@bp.get("/mail")
@access.clinic()
def mail() -> Response:
    """One's own mail address, and whether this server sends links to it."""
    row = staff.one(clinic_db(), who().id)
    return answer({"mail": row["mail"] if row else None, "links": notify.can_send_links(settings())})


@bp.put("/mail")
@access.clinic()
def change_mail() -> Response:
    """One's own mail address, or none. A link for a new password goes there, so the password is asked for again."""
    given = read(MailSchema(), json_object())
    access.confirm_password(given["password"])
    row, now = staff.one(clinic_db(), who().id), settings().now()
    if row is None:
        raise not_found()
    with write(clinic_db()) as db:
        staff.set_mail(db, who().id, given["mail"])
        audit.record(db, now, f"staff:{who().id}", "staff.mail", f"staff:{who().id}", "set" if given["mail"] else "cleared")
        if row["mail"] != given["mail"]:
            notify.tell_of_change(db, settings(), row, "address", now)
    if row["mail"] != given["mail"]:
        factors.drop_password_codes(registry().db, own())  # a link that went to the old address opens nothing
    return answer({"mail": given["mail"], "links": notify.can_send_links(settings())})


# What a manager does


def colleague(staff_id: str) -> tuple[str, str]:
    """(clinic id, staff id) of a member of staff of the same clinic. Raises 404."""
    if staff.one(clinic_db(), staff_id) is None:
        raise not_found()
    return who().session.clinic_id, staff_id


@bp.post("/staff")
@access.clinic("manager")
def add_staff() -> Response:
    """One more member of staff: with a code to choose their password, or a first password they must change at once."""
    given = read(StaffSchema(), json_object())
    try:
        staff_id = founding.add_member(
            settings().data_dir, who().login, given["login"], given["name"], given["role"], given.get("password"),
            settings().now(), f"staff:{who().id}", given.get("mail"),
        )  # fmt: skip
    except LoginTaken:
        words = "This sign-in name is taken. Choose another."
        raise Denied(422, "invalid", words, fields={"login": [words]}) from None
    except passphrases.Refused as refused:
        raise Denied(422, "invalid", str(refused), fields={"password": [str(refused)]}) from None
    if given.get("password") is not None:
        return answer({"id": staff_id}, 201)
    whose = (who().session.clinic_id, staff_id)
    return answer({"id": staff_id} | code_for(whose, founding.FIRST_PASSWORD_LASTS), 201)


def code_for(whose: tuple[str, str], lasts: timedelta) -> dict[str, str]:
    """Shown this once. The secret stands behind the #, which no browser sends anywhere."""
    now = settings().now()
    secret = factors.add_password_code(registry().db, whose, now, lasts)
    link = f"{access.site().origin}/clinic/#/new-password?code={secret}"
    return {"code": secret, "link": link, "expires_at": (now + lasts).isoformat()}


@bp.post("/staff/<staff_id>/password-code")
@access.clinic("manager")
def give_password_code(staff_id: str) -> Response:
    """For somebody who forgot their password: they choose a new one, and the manager never knows it."""
    whose = colleague(staff_id)
    record("password.code", f"staff:{staff_id}")
    return answer({"id": staff_id} | code_for(whose, founding.CODE_LASTS), 201)


@bp.delete("/staff/<staff_id>")
@access.clinic("manager")
def staff_left(staff_id: str) -> Response:
    """Somebody has left: their sessions end and they can't sign in. What they did stays in the record."""
    whose = colleague(staff_id)
    if staff_id == who().id:
        words = "Another manager must do this for you."
        raise Denied(422, "invalid", words, fields={"staff_id": [words]})
    now = settings().now()
    with write(clinic_db()) as db:
        staff.leave(db, staff_id, now)
        audit.record(db, now, f"staff:{who().id}", "staff.leave", f"staff:{staff_id}")
    registry().end_sessions(*whose)
    factors.drop_all(registry().db, whose)
    factors.drop_password_codes(registry().db, whose)
    return answer({"id": staff_id, "left": True})


@bp.delete("/staff/<staff_id>/second-factor")
@access.clinic("manager")
def reset_second_factor(staff_id: str) -> Response:
    """For somebody who lost their phone and their recovery codes: the password alone opens until they set up again."""
    whose = colleague(staff_id)
    factors.drop_all(registry().db, whose)
    registry().end_sessions(*whose)
    record("second-factor.reset", f"staff:{staff_id}")
    return answer({"id": staff_id, "reset": True})
