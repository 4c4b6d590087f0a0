"""The reasons of a door, each a sentence: what is on record, and where bugs come from."""

from __future__ import annotations

from spread.decisions.doors import told as facts
from spread.words.saying import say
from spread.words.terms import alert_of, found_by, level_name, method_name, sign_name
from spread.words.voice import Voice, upper


def infestation(level: str, voice: Voice) -> str:
    """Return ``a heavy infestation``, or ``an infestation`` where its level is not known."""
    if not level:
        return voice.text("an infestation")
    return voice.text("a {level} infestation", level=level_name(level, voice))


def clear_looks(number: int, voice: Voice) -> str:
    """Return ``two clear looks``, or ``no clear look``."""
    if not number:
        return voice.text("no clear look")
    return voice.many("{count} clear look", "{count} clear looks", number, count=voice.count(number))


@say.register
def _(fact: facts.Found, voice: Voice) -> str:
    signs = ", ".join(
        voice.text("live bugs") if sign == "live" else sign_name(sign, voice) for sign in fact.signs
    )
    told = voice.text(
        "{infestation} was found {ago} {how}",
        infestation=infestation(fact.level, voice),
        ago=voice.ago(fact.days),
        how=found_by(fact.method, voice),
    )
    return upper(f"{told} ({signs})." if signs else f"{told}.")


@say.register
def _(fact: facts.Untreated, voice: Voice) -> str:
    return voice.text("Not treated since.")


@say.register
def _(fact: facts.Treated, voice: Voice) -> str:
    return voice.text(
        "Treated {when} ({method}); {looks} since.",
        when=voice.text("the same day") if fact.same_day else voice.ago(fact.days),
        method=method_name(fact.method, voice).lower(),
        looks=clear_looks(fact.clear_looks, voice),
    )


@say.register
def _(fact: facts.Reported, voice: Voice) -> str:
    ago = voice.ago(fact.days)
    if fact.unseen:
        return voice.text("Bugs were reported there {ago} and nobody has looked since.", ago=ago)
    return voice.text("Bugs were reported there {ago}.", ago=ago)


@say.register
def _(fact: facts.Alerted, voice: Voice) -> str:
    ago = voice.ago(fact.days)
    alert = alert_of(fact.method, voice)
    if alert:
        return upper(voice.text("{alert} {ago}; nobody has confirmed it.", alert=alert, ago=ago))
    return voice.text(
        "The last look, {ago}, came upon {signs} and nothing more, which confirms nothing.",
        ago=ago,
        signs=voice.joined([sign_name(sign, voice) for sign in fact.signs]),
    )


@say.register
def _(fact: facts.FoundBefore, voice: Voice) -> str:
    return upper(
        voice.text(
            "{infestation} was found there {ago}; {looks} since.",
            infestation=infestation(fact.level, voice),
            ago=voice.ago(fact.days),
            looks=clear_looks(fact.clear_looks, voice),
        )
    )


@say.register
def _(fact: facts.TreatedBefore, voice: Voice) -> str:
    looks = clear_looks(fact.clear_looks, voice)
    return voice.text("It was treated {ago}; {looks} since.", ago=voice.ago(fact.days), looks=looks)


@say.register
def _(fact: facts.FromContact, voice: Voice) -> str:
    told = voice.text("{place}, {story}.", place=say(fact.way, voice), story=say(fact.story, voice))
    return upper(told)


@say.register
def _(fact: facts.FoundThere, voice: Voice) -> str:
    if fact.again_days is None:
        ago = voice.ago(fact.days)
    else:
        first, again = voice.ago(fact.days), voice.ago(fact.again_days)
        ago = voice.text("{ago} and again {later},", ago=first, later=again)
    found = {"infestation": infestation(fact.level, voice), "ago": ago}
    if fact.treated_days is None:
        told = voice.text("where {infestation} was found {ago} and not treated since", **found)
    elif fact.treatments > 1:
        told = voice.text(
            "where {infestation} was found {ago} and treated {times}, last {treated}",
            times=times(fact.treatments, voice),
            treated=voice.ago(fact.treated_days),
            **found,
        )
    else:
        treated = voice.text("the same day") if fact.same_day else voice.ago(fact.treated_days)
        told = voice.text(
            "where {infestation} was found {ago} and treated {treated}", treated=treated, **found
        )
    if fact.clear_looks:
        looks = clear_looks(fact.clear_looks, voice)
        told = voice.text("{story}; {looks} since", story=told, looks=looks)
    return told if fact.chance is None else _chance_now(told, fact.chance, voice)


def _chance_now(story: str, chance: float, voice: Voice) -> str:
    return voice.text("{story} (chance now {chance})", story=story, chance=voice.percent(chance))


def times(number: int, voice: Voice) -> str:
    """Return ``once``, ``twice``, ``five times``."""
    if number == 1:
        return voice.text("once")
    if number == 2:
        return voice.text("twice")
    return voice.text("{count} times", count=voice.count(number))


@say.register
def _(fact: facts.TreatedThere, voice: Voice) -> str:
    looks = clear_looks(fact.clear_looks, voice)
    return voice.text(
        "which was treated {ago} and has had {looks} since", ago=voice.ago(fact.days), looks=looks
    )


@say.register
def _(fact: facts.ReportedThere, voice: Voice) -> str:
    told = voice.text("where bugs were reported {ago}", ago=voice.ago(fact.days))
    return _chance_now(told, fact.chance, voice)


@say.register
def _(fact: facts.AlertedThere, voice: Voice) -> str:
    alert = alert_of(fact.method, voice)
    told = voice.text("where {alert} {ago}", alert=alert, ago=voice.ago(fact.days))
    return _chance_now(told, fact.chance, voice)


@say.register
def _(fact: facts.SuspectedThere, voice: Voice) -> str:
    chance = voice.percent(fact.chance)
    if fact.looked_days is None:
        return voice.text("where the chance is {chance} and no look is on record", chance=chance)
    ago = voice.ago(fact.looked_days)
    if fact.found == "no":
        message = voice.text("where the chance is {chance}; the last look, {ago}, found nothing")
    elif fact.found == "unsure":
        message = voice.text("where the chance is {chance}; the last look, {ago}, could not tell")
    else:
        message = voice.text("where the chance is {chance}")
    return message.format(chance=chance, ago=ago)


@say.register
def _(fact: facts.Elsewhere, voice: Voice) -> str:
    if fact.since is not None:
        return voice.text(
            "If it is infested, it most likely was so before {day}, when the window begins.",
            day=voice.day(fact.since),
        )
    if fact.alone:
        alone = {
            "brought in": voice.text("No contact stands out as a source; what people bring in weighs most."),
            "moved in": voice.text(
                "No contact stands out as a source; what came in with a move weighs most."
            ),
            "building-wide": voice.text(
                "No contact stands out as a source; visits, laundry and lounges weigh most."
            ),
            "shared room": voice.text(
                "No contact stands out as a source; a room or a helper shared by units, that no plan shows, "
                "weighs most."
            ),
        }
        return alone[fact.route]
    beside = {
        "brought in": voice.text("What people bring in weighs most as a source."),
        "moved in": voice.text("What came in with a move weighs most as a source."),
        "building-wide": voice.text("Visits, laundry and lounges weigh most as a source."),
        "shared room": voice.text(
            "A room or a helper shared by units, that no plan shows, weighs most as a source."
        ),
    }
    return beside[fact.route]


@say.register
def _(fact: facts.ManySides, voice: Voice) -> str:
    return voice.text(
        "No contact alone stands out as a source; all of them together make up {share}, first of all "
        "{units}.",
        share=voice.percent(fact.together),
        units=voice.joined(fact.units),
    )


@say.register
def _(fact: facts.NoContacts, voice: Voice) -> str:
    return voice.text("The plan shows no contact with another unit; what people bring in remains.")


@say.register
def _(fact: facts.LastLook, voice: Voice) -> str:
    look = {"ago": voice.ago(fact.days), "method": method_name(fact.method, voice).lower()}
    if fact.misses is None:
        return voice.text("The last look, {ago} ({method}), could not tell.", **look)
    return voice.text(
        "The last look, {ago} ({method}), found nothing; it would miss about {missed} of low infestations.",
        missed=voice.percent(fact.misses),
        **look,
    )


@say.register
def _(fact: facts.NoLook, voice: Voice) -> str:
    return voice.text("No look at it is on record.")


@say.register
def _(fact: facts.NoAccess, voice: Voice) -> str:
    if fact.times == 1:
        return voice.text("There was no access last time.")
    return voice.text("There was no access the last {number} times.", number=voice.number(fact.times))


@say.register
def _(fact: facts.StandsEmpty, voice: Voice) -> str:
    return voice.text("It stands empty, which clears nothing: bugs wait for months.")


@say.register
def _(fact: facts.MovedIn, voice: Voice) -> str:
    return voice.text("Somebody moved in {ago}.", ago=voice.ago(fact.days))
