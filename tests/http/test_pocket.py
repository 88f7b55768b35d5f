"""The pocket plan: the clinic's own words on a wearer's phone. Kept by version, shown to whom it is for, taken back."""

from __future__ import annotations

from typing import Any

import pytest

from plytide.storage.files import backup
from plytide.storage.sqlite import IntegrityError
from tests.actors import Actor, Cast, Json, Wearer
from tests.conftest import signed_in
from tests.http.test_contact import story
from tests.http.test_message import second_phone
from tests.http.test_signals import clinic_file

LOOSE = "Loose: add one thin sock. At 10-ply call us."


def write(cast: Cast, who: Wearer, **said: Any) -> Any:
    return cast.ida.patch(f"/api/clinic/limbs/{who.limb_id}/pocket", said)


def written(cast: Cast, who: Wearer, **said: Any) -> None:
    answer = write(cast, who, **said)
    assert answer.status_code == 200, answer.get_json()


def on(phone: Actor, limb: int = 0) -> Json | None:
    found: Json | None = phone.get("/api/me").get_json()["people"][0]["limbs"][limb]["pocket"]
    return found


def refused(answer: Any) -> Json:
    assert answer.status_code == 422, answer.get_json()
    faults: Json = answer.get_json()["error"]["fields"]
    return faults


def test_a_phone_has_no_plan_until_one_is_written(cast: Cast):
    assert on(cast.anouk.phone) is None
    written(cast, cast.anouk, loose=f"  {LOOSE} ", tight="Take one off.\nWait ten minutes.", care="")
    plan = on(cast.anouk.phone)
    assert plan == {
        "loose": LOOSE, "tight": "Take one off.\nWait ten minutes.", "wear": None, "care": None, "bring": None,
        "at": cast.clock.now.isoformat(), "by": "ida",
    }  # fmt: skip


def test_each_version_is_kept_with_who_and_when_and_a_replay_knows_the_one_of_its_day(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE, bring="Your liner.")
    first = cast.clock.now
    cast.clock.forward(days=2)
    cast.ida, cast.juno = signed_in(cast.app, "ida"), signed_in(cast.app, "juno")
    answer = cast.juno.patch(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket", {"loose": "Call us first."})
    assert answer.status_code == 200
    new, old = story(cast, cast.anouk)["pocket"]
    assert (new["loose"], new["bring"], new["by"], new["at"]) == (
        "Call us first.", "Your liner.", "juno", cast.clock.now.isoformat(),
    )  # fmt: skip
    assert (old["loose"], old["by"], old["at"]) == (LOOSE, "ida", first.isoformat())
    day = first.date().isoformat()
    then = cast.ida.get(f"/api/clinic/limbs/{cast.anouk.limb_id}?as_of={day}").get_json()["pocket"]
    assert [one["loose"] for one in then] == [LOOSE]


def test_a_plan_taken_back_leaves_the_phone_and_stays_to_be_read(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    taken = cast.ida.delete(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket")
    assert taken.status_code == 200
    assert on(cast.anouk.phone) is None
    gone, before = story(cast, cast.anouk)["pocket"]
    assert (gone["loose"], before["loose"]) == (None, LOOSE)
    assert cast.ida.delete(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket").status_code == 200
    assert len(story(cast, cast.anouk)["pocket"]) == 2
    written(cast, cast.anouk, care="Dry it well.")
    assert on(cast.anouk.phone) == {
        "loose": None, "tight": None, "wear": None, "care": "Dry it well.", "bring": None,
        "at": cast.clock.now.isoformat(), "by": "ida",
    }  # fmt: skip


@pytest.mark.parametrize("part", ["loose", "tight", "wear", "care", "bring"])
def test_what_is_too_long_is_refused_by_its_part_and_nothing_is_kept(cast: Cast, part: str):
    assert list(refused(write(cast, cast.anouk, **{part: "x" * 301}))) == [part]
    assert story(cast, cast.anouk)["pocket"] == []
    written(cast, cast.anouk, **{part: "x" * 300})


def test_a_plan_without_a_word_is_refused(cast: Cast):
    assert "loose" in refused(write(cast, cast.anouk, loose=" ", care=None))
    written(cast, cast.anouk, loose=LOOSE)
    assert "loose" in refused(write(cast, cast.anouk, loose=""))
    assert (on(cast.anouk.phone) or {})["loose"] == LOOSE


def test_markup_and_right_to_left_words_are_kept_as_written_and_turned_order_is_not(cast: Cast):
    text = "<b>جورب</b> & واحد \u202eحسنا"
    written(cast, cast.anouk, loose=text)
    assert (on(cast.anouk.phone) or {})["loose"] == text.replace("\u202e", "")


def test_each_limb_has_its_own(cast: Cast):
    left, right = cast.dov.limb_ids
    assert cast.ida.patch(f"/api/clinic/limbs/{right}/pocket", {"tight": "Rest it."}).status_code == 200
    by_limb = {limb["id"]: limb["pocket"] for limb in cast.dov.phone.get("/api/me").get_json()["people"][0]["limbs"]}
    assert by_limb[left] is None
    assert by_limb[right]["tight"] == "Rest it."


def test_a_phone_that_joins_has_it_at_once(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    code = cast.ida.made(f"/api/clinic/people/{cast.anouk.id}/enrolment-codes", {"role": "wearer"})["code"]
    joined = cast.nobody.made("/api/enrol", {"code": code, "label": "New"})
    assert joined["people"][0]["limbs"][0]["pocket"]["loose"] == LOOSE


def test_a_caregiver_reads_it_too_but_not_of_somebody_who_writes_alone_unless_staff_say_so(cast: Cast):
    kitchen, _ = second_phone(cast, cast.anouk, "caregiver")
    written(cast, cast.anouk, loose=LOOSE)
    assert (on(kitchen) or {})["loose"] == LOOSE
    assert cast.ida.patch(f"/api/clinic/people/{cast.anouk.id}", {"own_log": True}).status_code == 200
    assert on(kitchen) is None
    assert (on(cast.anouk.phone) or {})["loose"] == LOOSE
    written(cast, cast.anouk, to="all")
    assert (on(kitchen) or {})["loose"] == LOOSE
    assert "to" not in (on(kitchen) or {})
    written(cast, cast.anouk, to="caregiver")
    assert on(cast.anouk.phone) is None


def test_two_who_write_at_once_are_told(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    seen = {"loose": None, "care": None}
    late = write(cast, cast.anouk, loose="Add two.", was={"loose": None})
    assert late.status_code == 409
    assert late.get_json()["now"] == {"loose": LOOSE}
    written(cast, cast.anouk, care="Wash it.", was=seen | {"loose": LOOSE})


def test_a_phone_is_told_of_nobody_elses(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    assert LOOSE not in cast.bram.phone.get("/api/me").get_data(as_text=True)
    foreign = cast.teodor.patch(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket", {"loose": "Mine."})
    assert foreign.status_code == 404


def test_a_version_can_not_be_changed(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    with clinic_file(cast) as db, pytest.raises(IntegrityError, match="append-only"):
        db.conn.execute("UPDATE pocket SET loose = 'Other'")


def test_after_a_restore_the_clinics_own_copy_counts(cast: Cast, tmp_path: Any):
    data = cast.app.config["SETTINGS"].data_dir
    written(cast, cast.anouk, loose=LOOSE)
    backup.backup(data, tmp_path / "copy", cast.clock.now)
    written(cast, cast.anouk, loose="Newer words.")
    backup.restore(tmp_path / "copy", data, force=True)
    assert (on(cast.anouk.phone) or {})["loose"] == LOOSE


def test_each_deed_is_in_the_audit(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    cast.ida.delete(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket")
    lines = cast.nora.get("/api/clinic/audit").get_json()["lines"]
    assert {"pocket.write", "pocket.take-back"} <= {one["what"] for one in lines}


def test_a_form_opened_before_a_colleague_changed_any_part_is_told(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE, care="Dry it well.")
    seen = {"loose": LOOSE, "tight": None, "wear": None, "care": "Dry it well.", "bring": None, "to": None}
    assert cast.juno.delete(f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket").status_code == 200
    late = write(cast, cast.anouk, bring="Your liner.", was=seen)
    assert late.status_code == 409
    assert late.get_json()["now"] == {"loose": None, "care": None}
    assert on(cast.anouk.phone) is None
    both = {"loose": LOOSE, "care": "Dry it well.", "bring": "Your liner."}
    written(cast, cast.anouk, **both, was=seen | late.get_json()["now"])
    assert (on(cast.anouk.phone) or {})["loose"] == LOOSE


def test_a_plan_that_a_colleague_changed_is_not_taken_back_unread(cast: Cast):
    written(cast, cast.anouk, loose=LOOSE)
    where = f"/api/clinic/limbs/{cast.anouk.limb_id}/pocket"
    seen = story(cast, cast.anouk)["pocket"][0]["version"]
    written(cast, cast.anouk, loose="Call us first.")
    late = cast.ida.delete(where, query_string={"was": seen})
    assert (late.status_code, late.get_json()["error"]["code"]) == (409, "changed-meanwhile")
    assert (on(cast.anouk.phone) or {})["loose"] == "Call us first."
    now = story(cast, cast.anouk)["pocket"][0]["version"]
    assert cast.ida.delete(where, query_string={"was": now}).status_code == 200
    assert cast.ida.delete(where, query_string={"was": now}).status_code == 200  # both alike: no matter
    assert len(story(cast, cast.anouk)["pocket"]) == 3
