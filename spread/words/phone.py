"""Every text of the phone pages and of the sign-in pages, by the key that a page or a script asks for it by.

A page comes with its whole table in the voice of whoever asked, and keeps it without a connection. A text
with two forms is a list: for one, and for more.
"""

from __future__ import annotations

from spread.trade.room import SLEEPING
from spread.words.catalogue import catalogue
from spread.words.voice import Voice

Table = dict[str, str | list[str]]


class _Forms:
    """A text's two forms, not filled yet, by a method whose name the catalogues are gathered by."""

    def __init__(self, voice: Voice) -> None:
        self._told = catalogue(voice.language)

    def many(self, one: str, more: str) -> list[str]:
        return [self._told.ngettext(one, more, 1), self._told.ngettext(one, more, 2)]


def phone_words(voice: Voice) -> Table:
    """Return the texts of the round and of the room page."""
    parts = (_page, _queue, _together, _round, _room, _look, _heat, _after)
    return {key: told for part in parts for key, told in part(voice).items()}


def _page(voice: Voice) -> Table:
    text = voice.text
    return {
        "disclaimer": text(
            "Decision support, not a guarantee: local codes, product labels and licensed practice come first."
        ),
        "clears_nothing": text("No answer here clears a unit."),
        "needs_script": text("This page keeps answers on the phone and needs JavaScript for it."),
        "undo": text("Undo"),
        "back": text("Back"),
        "close": text("Close"),
        "unit": text("Unit"),
        "try_now": text("Try now"),
        "answers_here": text("Answers on this phone"),
        "language": text("Language"),
        "measures": text("Measures"),
        "metres": text("metres"),
        "feet": text("feet"),
        "keeps_nothing": text(
            "This browser keeps nothing (private window?): an answer could not wait here, so none is taken. "
            "Open it in an ordinary window."
        ),
        "undo_what": text("Undo: {what}"),
        "taken_back": text("{unit}: taken back"),
        "no_room_undo": text("This phone has no room to keep that. Nothing was taken back."),
    }


def _queue(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "refused_silent": text("The server refused it without a word."),
        "answered_code": text("The server answered {status}."),
        "count_refused": many("{number} refused", "{number} refused"),
        "count_waiting": many("{number} waiting", "{number} waiting"),
        "count_elsewhere": many("{number} for elsewhere", "{number} for elsewhere"),
        "sign_in_to_send": text("sign in again to send"),
        "no_connection": text("no connection"),
        "all_sent": text("all sent"),
        "throw_away": text("Throw away"),
        "throw_away_sure": text("Press again to throw away"),
        "state_sign_in": text(
            "Sign in again to send. Until then answers are kept on this phone; each is sent once afterwards."
        ),
        "state_sending": text("Being sent."),
        "state_kept": text("Everything that was answered here is kept by the server."),
        "state_offline": text(
            "No connection. Go on: answers are kept on this phone and sent in order when it is back."
        ),
        "sign_in_again": text("Sign in again"),
        "part_waiting": text("Waiting to be sent"),
        "part_refused": text("Refused by the server"),
        "part_refused_more": text("Kept here until you decide."),
        "part_elsewhere": text("For elsewhere"),
        "part_elsewhere_more": text(
            "They wait until that building is served at this address, or whoever gave them signs in. "
            "Sent here they count as yours."
        ),
        "send_again": text("Send again"),
        "send_here": text("Send them here"),
        "mend": text("Look at it and mend it"),
        "mend_send": text("Mend and send"),
        "day": text("Day"),
        "mended": text("{what} (mended: {unit}, {day})"),
    }


def _together(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "take": text("Take this door"),
        "give_back": text("Give it back"),
        "how_many_go": text("How many go on this round"),
        "take_part": text("Take my part of {team}"),
        "part_is": many("Your part is {number} door: {units}.", "Your part is {number} doors: {units}."),
        "part_none": text("No door is left for another part: others have taken them all."),
        "take_planned": many("Take the {number} planned door", "Take the {number} planned doors"),
        "give_all": many("Give {number} door back", "Give {number} doors back"),
        "taken_here": text("taken by you"),
        "taken_by": text("taken by {who}"),
        "another_phone": text("another phone"),
        "taken_elsewhere": text("Left to others: {units}."),
        "meanwhile": text("Answered today. {answer}."),
        "read_it": text("Seen"),
    }


def _round(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "round": text("Round"),
        "getting_doors": text("Getting the doors …"),
        "doors_sign_in": text("Sign in again to get the doors."),
        "doors_offline": text(
            "No connection, and no doors on this phone yet. Open this page once with a connection."
        ),
        "other_doors": text("Other doors, and settings"),
        "answer": text("Answer"),
        "room_sheet": text("Room sheet"),
        "room_sheet_of": text("Room sheet of {unit}"),
        "found": text("Signs found"),
        "nothing_found": text("Nothing found"),
        "nobody": text("Nobody home"),
        "refused": text("Refused"),
        "skip": text("Skip"),
        "seen_label": text("What was seen (any, or none)"),
        "level_label": text("How heavy, by live bugs: this saves"),
        "up": many("up {number} floor", "up {number} floors"),
        "down": many("down {number} floor", "down {number} floors"),
        "from_climb": text("From {unit}: {climb}"),
        "from_walk": text("From {unit}: {distance} to walk"),
        "from_climb_walk": text("From {unit}: {climb}, {distance} to walk"),
        "to_treat": text("to treat"),
        "to_revisit": text("to revisit"),
        "beyond": text("beyond the planned time"),
        "chance_of": text("{word} chance"),
        "how_sure": text("How sure: {sure}."),
        "bring": text("Bring"),
        "time": text("Time"),
        "about_minutes": text("about {minutes} min if it opens"),
        "go_to": text("Go to {unit}"),
        "planned_again": text("Planned again: {unit} ({percent}) would come first now."),
        "bring_back": many("Bring back {number} skipped door", "Bring back {number} skipped doors"),
        "none_left": text("No door is left"),
        "all_answered": text("Every door of this list was answered today."),
        "all_answered_here": text("The doors on this phone are all answered. More come with the connection."),
        "count_done": many("{number} done", "{number} done"),
        "count_to_go": many("{number} to go", "{number} to go"),
        "time_used": text("planned time used up"),
        "till": text("till {clock}"),
        "by_code": text("Another door, by its code"),
        "go": text("Go"),
        "no_unit": text("This building has no unit {unit}."),
        "write_code": text("Write the code on the door, such as {unit}."),
        "begin_new": text("Begin a new round now"),
        "next_doors": text("Next doors"),
        "left_out": text("Left out: {units}."),
        "how_goes": text("How this round goes"),
        "looking_by": text("Looking by"),
        "time_for_round": text("Time for the round"),
        "hours": text("{hours} h"),
        "order": text("Order"),
        "log_contradicts": text("Warning: the log speaks against the model"),
        "order_planned": text("planned walk, likely infested doors last"),
        "order_likeliest": text("likeliest finds first"),
        "also_revisit": text("Also doors to revisit"),
        "also_treat": text("Also units to treat"),
        "heard": text("Unit {unit}, {floor}, {word} chance, {percent}"),
        "not_fetched": text("not fetched, unknown"),
        "by_its_code": text("Chosen by its code; its reasons come with the connection."),
        "not_fetched_yet": text("not fetched yet"),
        "said_clear": text("{unit}: nothing found"),
        "said_nobody": text("{unit}: nobody home"),
        "said_refused": text("{unit}: refused entry"),
        "said_found": text("{unit}: signs found"),
        "said_found_level": text("{unit}: signs found, {level}"),
        "said_skip": text("{unit}: skipped"),
        "no_room": text(
            "This phone has no room to keep the answer for {unit}. It was not kept: free some space, or "
            "write it down."
        ),
        "found_in": text("Signs found in {unit}"),
        "no_live": text("No live bug counted"),
        "no_live_more": text("signs only, level not judged"),
    }


def _room(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "back_to_round": text("Back to the round"),
        "part_look": text("Look: the room sheet"),
        "part_treat": text("Treat"),
        "part_traps": text("Traps"),
        "part_follow": text("Follow-up and clearance"),
        "next_door": text("Next door"),
        "save": text("Save"),
        "save_findings": text("Save findings"),
        "amounts_to": text("What it amounts to"),
        "looked_how": text("Looked how"),
        "level_saves": text("Level: this saves"),
        "room_title": text("{unit} · room sheet"),
        "getting_room": text("Getting the room …"),
        "room_sign_in": text("Sign in again to get the room."),
        "room_offline": text(
            "No connection, and this phone has no room sheet yet. Open this page once with a connection."
        ),
        "known_later": text("What is known of this unit comes with the connection. The sheet is here."),
        "still_lacks": many(
            "Clearance still lacks {number} thing: see follow-up.",
            "Clearance still lacks {number} things: see follow-up.",
        ),
        "save_items": text("Save findings: {looked} of {all} items"),
        "save_items_again": text("Save again: {looked} of {all} items"),
        "judge_offline": text(
            "No connection. Saved as proposed, the level is worked out when it is sent; or choose one "
            "yourself."
        ),
        "seen_makes": text("What you looked at makes a {way}; it is saved as that."),
        "judge_asking": text("Asking what it amounts to …"),
        "rest_nothing": many(
            "I looked at the other {number} item too: nothing seen",
            "I looked at the other {number} items too: nothing seen",
        ),
        "as_proposed": text("As proposed"),
        "as_proposed_level": text("As proposed: {level}"),
        "level_nothing": text("nothing found"),
        "level_signs": text("signs, no level"),
        "level_unsure": text("not sure"),
        "level_as_proposed": text("level as proposed"),
        "signs_no_level": text("Signs, no level"),
        "signs_found_no_level": text("signs found, no level"),
        "not_sure": text("Not sure"),
        "said_sheet": text("{unit}: room sheet, {level}"),
        "kept": text("Kept. {what}"),
        "room_no_unit": text("This building has no unit {unit}. Go back to the round and choose a door."),
        "no_room_entered": text(
            "This phone has no room to keep what is entered. Free some space before you go on."
        ),
        "no_day": text("The day is not known yet: open this page once with a connection."),
        "no_room_kept": text(
            "This phone has no room to keep that. It was not kept: free some space, or write it down."
        ),
    }


def _look(voice: Voice) -> Table:
    text = voice.text
    return {
        "sleep_on": text("People sleep on"),
        **{f"place_{kind}": voice.term("place", kind.replace("-", " ")) for kind in SLEEPING},
        "take_away": text("Take away {place}"),
        "more_bed": text("+ bed"),
        "more_sofa": text("+ sofa"),
        "more_else": text("+ something else"),
        "likeliest_first": text(
            "In the order of work, with how many of 100 bugs are met there. Press Nothing where you looked "
            "and saw nothing, or the name to read on and write down what was seen."
        ),
        "traps_covers": text("Traps and covers"),
        "whole_room": text("What holds for the whole room"),
        "nothing": text("Nothing"),
        "nothing_seen": text("nothing seen"),
        "item_nothing": text("{item}: nothing seen"),
        "clear_this": text("Clear this"),
        "item_clear": text("{item}: take back what was written"),
        "at_look": text("Look"),
        "at_here": text("Here"),
        "at_counts": text("Counts"),
        "at_usual": text("Usual"),
        "at_product": text("Product"),
        "at_care": text("Care"),
        "at_last": text("Last"),
        "at_source": text("Source"),
        "seen_at": text("Seen at {place}"),
        "seen_here": text("Seen here"),
        "state_of": text("State of {item}"),
        "signs_at": text("Signs at {item}"),
        "counted": text("Counted"),
        "stage": text("Stage"),
        "stage_unsaid": text("not said"),
        "feet_from_bed": text("Feet from the bed"),
        "metres_from_bed": text("Metres from the bed"),
        "photograph": text("Take a photograph"),
        "photograph_kept": text("Photograph kept"),
        "photograph_drop": text("Drop it"),
        "photograph_drop_of": text("Drop the photograph of {item}"),
        "photograph_not_kept": text("This browser could not keep the photograph: nothing was taken."),
    }


def _heat(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "heat_hint": text(
            "Probes lie where bugs hide, from before the heat is on. Write down what each reads every few "
            "minutes, or paste its log; all of it is kept on this phone and goes with the treatment."
        ),
        "heat_scale": text("Readings are in"),
        "heat_C": text("degrees C"),
        "heat_F": text("degrees F"),
        "heat_rooms": text("Rooms that are heated"),
        "heat_needed": many(
            "{needed} probes at least for {number} room (practice, no source); a large or crowded room takes "
            "more.",
            "{needed} probes at least for {number} rooms (practice, no source); a large or crowded room "
            "takes more.",
        ),
        "heat_where": text("Where the next probe lies"),
        "heat_add": text("Add the probe"),
        "heat_twice": text("There is a probe {probe} already: say which, as in sofa 2."),
        "heat_degrees_at": text("Degrees {scale} at {probe} now"),
        "heat_keep": text("Keep the reading"),
        "heat_keep_of": text("Keep the reading of {probe}"),
        "heat_number": text("Write the reading as a number of degrees, such as 48.2; nothing was kept."),
        "heat_paste": text("Paste a log"),
        "heat_lines_of": text("Lines of the log of {probe}"),
        "heat_paste_hint": text(
            "A line a reading: the time or the minute, then the degrees, as in 14:05 48.2."
        ),
        "heat_paste_keep": text("Keep these readings"),
        "heat_line_wrong": text(
            "Line {line} cannot be read, or comes before the line above it; nothing was kept."
        ),
        "heat_order": text(
            "Readings of {probe} come after those that are there, up to {most} in all; nothing was kept."
        ),
        "heat_full": text("This phone has no room to keep the reading. Write it down, and free some space."),
        "heat_air": text("By its name this probe lies in the air, where no bug hides: it counts for none."),
        "heat_back": text("Take back the last reading"),
        "heat_back_of": text("Take back the last reading of {probe}"),
        "heat_drop": text("Take the probe away"),
        "heat_drop_of": text("Take the probe {probe} away"),
        "heat_none": text("No reading yet."),
        "heat_now": text("{degrees} at {time}, {number} readings."),
        "heat_met": text("It has held long enough."),
        "heat_cool": text("It was not at {degrees} yet."),
        "heat_held": text("Held {held} of {need} minutes at {degrees} or more."),
        "heat_may_end": text("The heat may be ended: every probe held long enough."),
        "heat_go_on": text("Keep the heat on: it is not credited yet."),
        "heat_coldest": text("Coldest now: {probe}, {degrees} at {time}."),
        "heat_short": text("Not long enough yet: {probes}."),
        "heat_wait": text("If each stays as hot as now: in {minutes} minutes at the earliest."),
        "heat_goes": text("The readings of the heat go with this record."),
        "heat_goes_short": text(
            "The readings of the heat go with this record, which is not credited by them."
        ),
        "end_heat_open": text(
            "There are readings of a heat job, and no whole-room heat is recorded with them."
        ),
        "part_heat": text("Heat job"),
    }


def _after(voice: Voice) -> Table:
    text, many = voice.text, _Forms(voice).many
    return {
        "plan_later": text("The plan comes with the connection."),
        "plan_level": text("{level} level"),
        "plan_basis": text("({basis}). About {minutes} minutes ({span})."),
        "product_is": text("Product:"),
        "care_is": text("Care:"),
        "resident_prepares": text("The resident prepares"),
        "resident_must_not": text("The resident must not"),
        "cautions": text("Cautions"),
        "done": text("Done?"),
        "treated_by": text("Treated by"),
        "record_treated": text("Treatment done: record it"),
        "record_steps": text("Record the treatment: {done} of {all} steps done"),
        "step_done": text("Done"),
        "step_is_done": text("Done: {step}"),
        "job_opened": text("Let in by"),
        "job_prepared": text("The home was"),
        "job_pets": text("Pets"),
        "sign_here": text("Signature of who let in; no name is kept"),
        "sign_keep": text("Keep the signature"),
        "sign_again": text("Draw it again"),
        "sign_kept": text("Signature kept"),
        "sign_drop": text("Drop the signature"),
        "sign_first": text("Draw the signature first, with a finger."),
        "job_code": text("Or a code from who let in, with a digit in it"),
        "job_warmth_C": text("Warmth of the rooms, degrees C (measured, not heated for the job)"),
        "job_warmth_F": text("Warmth of the rooms, degrees F (measured, not heated for the job)"),
        "job_window": text("Hours promised"),
        "job_product": text("Product used, as its label has it"),
        "job_number": text("Registration number"),
        "job_no_amount": text("Never write how much: the label says it."),
        "part_end": text("End of the visit"),
        "end_nothing": text("Nothing of today is on record for this unit yet."),
        "end_waits": many(
            "{number} answer still waits on this phone.", "{number} answers still wait on this phone."
        ),
        "photographs_wait": many(
            "{number} photograph still waits on this phone.", "{number} photographs still wait on this phone."
        ),
        "end_look_open": text("What you looked at is not saved yet."),
        "end_treat_open": text(
            "The treatment is not recorded yet ({done} of {all} steps done); ending the visit records it."
        ),
        "end_notice": text("Notice for the resident"),
        "end_record": text("Record of the visit"),
        "end_told": text("The notice of the result is left with the resident"),
        "end_visit": text("End the visit"),
        "said_told": text("{unit}: the resident has the result"),
        "said_treated": text("{unit}: treated, {method}"),
        "which_traps": text("Which traps"),
        "days_stood": text("Days they stood"),
        "set_traps": text("Set traps"),
        "legs_of": text("Legs of the {place} with a trap"),
        "traps_round": text("Traps on the floor round the {place}"),
        "set_hint": text("Count the legs that have a trap now. Days run from here; nothing counts before."),
        "record_set": text("Record: {number} traps set"),
        "say_legs": text("Write how many legs have a trap, as a whole number."),
        "said_set": text("{unit}: {number} traps set"),
        "take_up": text("Traps taken up: record it"),
        "said_up": text("{unit}: traps taken up"),
        "not_set": text(
            "No row says that traps stand here, so reading none shows nothing: record first that they are "
            "set."
        ),
        "trap": text("Trap"),
        "read_traps": text("Read the traps"),
        "trap_days": text("They stand {days} days since they were set or read."),
        "in_this_trap": text("Bugs in the trap at {place}"),
        "bugs_caught": text("Bugs caught"),
        "record_caught": text("Record: {caught} caught"),
        "record_clean": text("Record: a clean period"),
        "traps_found": text("Traps found"),
        "covers_found": text("Encasements found"),
        "period_counts": text(
            "A period counts towards clearance only from the day the traps were set, and with all of them "
            "where they were put."
        ),
        "write_caught": text("Write the bugs caught as a whole number; 0 if none."),
        "said_caught": text("{unit}: traps read, {caught} caught"),
        "said_clean": text("{unit}: traps read, a clean period"),
        "follow_later": text("It comes with the connection."),
        "lacks": text("Clearance still lacks"),
        "next_visit": text("Next visit"),
        "visit_days": text("{earliest} to {latest}, best {target}"),
        "not_counted": text("Not counted"),
    }


def sign_in_words(voice: Voice) -> Table:
    """Return the texts of the pages to sign in and out."""
    text, many = voice.text, _Forms(voice).many
    return {
        "title": text("Sign in"),
        "title_wrong": text("Not signed in · Sign in"),
        "code": text("Your work code"),
        "code_more": text("Short, such as T1; not your name."),
        "phrase": text("Pass phrase"),
        "show_it": text("Show it"),
        "lost": text("Lost it? Whoever runs Spread here can set a new one. A sign-in lasts 12 hours."),
        "empty": text("Write your code and your pass phrase."),
        "wrong": text("This code and pass phrase do not belong together. Check both and try again."),
        "busy": text("Others are signing in at this moment. Try again."),
        "shut": text(
            "Nobody can sign in now: the people file cannot be read. Tell whoever runs Spread here."
        ),
        "too_many": many(
            "Too many wrong tries. Wait {number} second, then try again.",
            "Too many wrong tries. Wait {number} seconds, then try again.",
        ),
        "out": text("You are signed out on this device."),
        "waiting": many(
            "{number} answer waits on this device and is sent after you sign in.",
            "{number} answers wait on this device and are sent after you sign in.",
        ),
        "sign_out": text("Sign out"),
        "signed_in_as": text("You are signed in as {who}. What you record carries this code."),
        "sign_out_here": text("Sign out on this device"),
        "change_phrase": text("Change the pass phrase"),
        "old_phrase": text("Pass phrase until now"),
        "new_phrase": text("New pass phrase"),
        "new_more": text("15 characters or more: four or more words that do not belong together."),
        "old_wrong": text("The pass phrase until now is not this one. Nothing was changed."),
        "changed": text("The pass phrase is changed, and every sign-in has ended. Sign in with the new one."),
        "back": text("Back"),
        "back_to_plan": text("Back to the plan"),
        "back_to_round": text("Back to the round"),
    }
