"""What staff do about their own way in, and what a manager does about others'."""

from __future__ import annotations

from datetime import timedelta

import segno
from flask import Response

from plytide.auth import passwords, second_factor
from plytide.auth.call import clinic_db, cookie, registry, settings, site
from plytide.auth.denied import Denied, not_found
from plytide.auth.guards import ARRIVING, SETTING_UP
from plytide.auth.password_change import check_new_password, confirm_password
from plytide.auth.password_hash import hash_password
from plytide.auth.session import claim_code, code_was_right, idle_time, own, who
from plytide.http.body import answer
from plytide.http.route import Routes, checked_body
from plytide.storage import audit, staff
from plytide.storage import mail as waiting_mail
from plytide.storage.registry import second_factor as factors
from plytide.storage.registry.registry import LoginTaken, session_name
from plytide.storage.sqlite import write
from plytide.wire.staff import CodeSchema, MailSchema, NewPasswordSchema, PasskeySchema, PasswordSchema, StaffSchema
from plytide.work import mail as notify
from plytide.work import setup

route = Routes("staff", "/api/clinic")


def record(what: str, subject: str = "", detail: str = "") -> None:
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", what, subject, detail)


# Second factors


@route("GET", "/second-factor", SETTING_UP)
def standing() -> Response:
    """Which second factors are set up, and how many recovery codes are left."""
    return answer(second_factor.standing(registry().db, own()))


@route("POST", "/second-factor/app", SETTING_UP, body=PasswordSchema, done=201)
def begin_app() -> Response:
    """A seed for an authenticator app; nothing is asked for until its first code was right."""
    confirm_password(checked_body()["password"])
    if second_factor.standing(registry().db, own())["app"]:
        words = "An app is set up already. Remove it first."
        raise Denied(422, "invalid", words, fields={"password": [words]})
    secret, address = second_factor.begin_app(registry().db, settings().data_dir, own(), who().login)
    picture = segno.make(address, error="m").svg_inline(scale=5, border=4, omitsize=True, svgclass="qr", lineclass=None)
    record("second-factor.begin")
    return answer({"secret": secret, "uri": address, "qr_svg": picture}, 201)


@route("POST", "/second-factor/app/confirm", SETTING_UP, body=CodeSchema)
def confirm_app() -> Response:
    """The app's first code; from now on a code is asked for. Recovery codes are shown this once."""
    code = "".join(checked_body()["code"].split())
    registry_db, now = registry().db, settings().now()
    claim_code()
    if not second_factor.app_code_holds(registry_db, settings().data_dir, own(), code, now):
        words = "This is not the app's code just now. Check the phone's clock."
        raise Denied(422, "invalid", words, fields={"code": [words]})
    code_was_right()
    codes = second_factor.new_recovery_codes(registry_db, own())
    record("second-factor.add", "", "app")
    return answer({"recovery_codes": codes})


@route("POST", "/second-factor/app/remove", SETTING_UP, body=PasswordSchema)
def remove_app() -> Response:
    """The app's codes are no longer asked for."""
    confirm_password(checked_body()["password"])
    factors.drop_seed(registry().db, own())
    record("second-factor.remove", "", "app")
    return answer(second_factor.standing(registry().db, own()))


@route("POST", "/second-factor/recovery", SETTING_UP, body=PasswordSchema)
def renew_recovery() -> Response:
    """Ten new recovery codes; the earlier ones stop working."""
    confirm_password(checked_body()["password"])
    codes = second_factor.new_recovery_codes(registry().db, own())
    record("second-factor.recovery")
    return answer({"recovery_codes": codes})


@route("POST", "/passkeys/options", SETTING_UP, body=PasswordSchema)
def begin_passkey() -> Response:
    """What the browser needs to make a passkey."""
    confirm_password(checked_body()["password"])
    challenge_id, options = second_factor.begin_passkey(registry().db, site(), own(), who().login, settings().now())
    return answer({"challenge_id": challenge_id, "options": options})


@route("POST", "/passkeys", SETTING_UP, body=PasskeySchema, done=201)
def add_passkey() -> Response:
    """Keep the passkey the browser made. The first second factor brings recovery codes."""
    given = checked_body()
    db = registry().db
    try:
        passkey_id = second_factor.finish_passkey(
            db, site(), own(), given["challenge_id"], given["credential"], given["label"], settings().now()
        )
    except second_factor.Unproven as error:
        words = "This passkey could not be checked. Begin again."
        raise Denied(422, "invalid", words, fields={"credential": [words]}) from error
    codes = second_factor.new_recovery_codes(db, own()) if not factors.recovery_left(db, own()) else []
    record("second-factor.add", "", "passkey")
    return answer({"id": passkey_id, "recovery_codes": codes}, 201)


@route("POST", "/passkeys/<passkey_id>/remove", SETTING_UP, body=PasswordSchema)
def remove_passkey(passkey_id: str) -> Response:
    """This passkey opens nothing any longer."""
    confirm_password(checked_body()["password"])
    if not factors.drop_passkey(registry().db, own(), passkey_id):
        raise not_found()
    record("second-factor.remove", "", "passkey")
    return answer({"id": passkey_id, "removed": True})


# Sessions and passwords


@route("GET", "/sessions", SETTING_UP)
def sessions() -> Response:
    """Where this member of staff is signed in."""
    rows = registry().sessions(*own(), settings().now(), idle_time())
    here = session_name(cookie() or "")
    return answer({"sessions": [row | {"this": row["id"] == here} for row in rows]})


@route("DELETE", "/sessions/<session_id>", SETTING_UP)
def end_session(session_id: str) -> Response:
    """End one of one's own sessions."""
    if not registry().end_sessions(*own(), only=session_id):
        raise not_found()
    record("session.end", "", "one of the others")
    return answer({"ended": 1})


@route("POST", "/sessions/end-others", SETTING_UP)
def end_others() -> Response:
    """End all of one's own sessions but this."""
    ended = registry().end_sessions(*own(), keep=cookie() or "")
    record("session.end", "", f"{ended} others")
    return answer({"ended": ended})


@route("PUT", "/password", ARRIVING, body=NewPasswordSchema)
def change_password() -> Response:
    """A new password; every other session ends."""
    given = checked_body()
    confirm_password(given["password"])
    row = staff.one(clinic_db(), who().id)
    if row is None:
        raise not_found()
    check_new_password(row, given["new_password"])
    if given["new_password"] == given["password"] and factors.first_password(registry().db, own()):
        words = "This is the password you were given. Choose your own."
        raise Denied(422, "invalid", words, fields={"new_password": [words]})
    hashed = hash_password(given["new_password"])
    with write(clinic_db()) as db:
        staff.set_password(db, who().id, hashed)
        audit.record(db, settings().now(), f"staff:{who().id}", "password.change", f"staff:{who().id}")
    factors.password_is_own(registry().db, own())
    ended = registry().end_sessions(*own(), keep=cookie() or "")
    return answer({"changed": True, "ended": ended})


@route("GET", "/mail", SETTING_UP)
def mail() -> Response:
    """One's own mail address, and whether this server sends links to it."""
    row = staff.one(clinic_db(), who().id)
    return answer({"mail": row["mail"] if row else None, "links": notify.can_send_links(settings())})


@route("PUT", "/mail", SETTING_UP, body=MailSchema)
def change_mail() -> Response:
    """One's own mail address, or none. A link for a new password goes there, so the password is asked for again."""
    given = checked_body()
    confirm_password(given["password"])
    row, now = staff.one(clinic_db(), who().id), settings().now()
    if row is None:
        raise not_found()
    with write(clinic_db()) as db:
        staff.set_mail(db, who().id, given["mail"])
        audit.record(
            db, now, f"staff:{who().id}", "staff.mail", f"staff:{who().id}", "set" if given["mail"] else "cleared"
        )
        waiting_mail.moved(db, row["mail"], given["mail"], now)
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


@route("POST", "/staff", SETTING_UP.only("manager"), body=StaffSchema, done=201)
def add_staff() -> Response:
    """One more member of staff: with a code to choose their password, or a first password they must change at once."""
    given = checked_body()
    try:
        member = setup.Newcomer(given["login"], given["name"], given["role"], given.get("password"), given.get("mail"))
        by = f"staff:{who().id}"
        staff_id = setup.add_member(settings().data_dir, who().login, member, settings().now(), by)
    except LoginTaken:
        words = "This sign-in name is taken. Choose another."
        raise Denied(422, "invalid", words, fields={"login": [words]}) from None
    except passwords.Refused as refused:
        raise Denied(422, "invalid", str(refused), fields={"password": [str(refused)]}) from None
    if given.get("password") is not None:
        return answer({"id": staff_id}, 201)
    whose = (who().session.clinic_id, staff_id)
    return answer({"id": staff_id} | code_for(whose, setup.FIRST_PASSWORD_LASTS), 201)


def code_for(whose: tuple[str, str], lasts: timedelta) -> dict[str, str]:
    """Shown this once. The secret stands behind the #, which no browser sends anywhere."""
    now = settings().now()
    secret = factors.add_password_code(registry().db, whose, now, lasts)
    link = f"{site().origin}/clinic/#/new-password?code={secret}"
    return {"code": secret, "link": link, "expires_at": (now + lasts).isoformat()}


@route("POST", "/staff/<staff_id>/password-code", SETTING_UP.only("manager"), done=201)
def give_password_code(staff_id: str) -> Response:
    """For somebody who forgot their password: they choose a new one, and the manager never knows it."""
    whose = colleague(staff_id)
    record("password.code", f"staff:{staff_id}")
    return answer({"id": staff_id} | code_for(whose, setup.CODE_LASTS), 201)


@route("DELETE", "/staff/<staff_id>", SETTING_UP.only("manager"))
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


@route("DELETE", "/staff/<staff_id>/second-factor", SETTING_UP.only("manager"))
def reset_second_factor(staff_id: str) -> Response:
    """For somebody who lost their phone and their recovery codes: the password alone opens until they set up again."""
    whose = colleague(staff_id)
    factors.drop_all(registry().db, whose)
    registry().end_sessions(*whose)
    record("second-factor.reset", f"staff:{staff_id}")
    return answer({"id": staff_id, "reset": True})
