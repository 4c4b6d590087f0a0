"""One page for every household: what bed bugs are, what to look for, what to do and what not to do."""

from __future__ import annotations

from spread.report import document as doc
from spread.report.own_words import Firm
from spread.session import Session
from spread.words import ENGLISH, Voice


def residents_sheet(session: Session, firm: Firm | None = None, voice: Voice = ENGLISH) -> doc.Document:
    """Return the sheet; it names no unit and says nothing of any household.

    ``firm``: who comes, if anybody is named.
    """
    who = [part for part in ((firm.name, firm.phone) if firm else ()) if part]
    blocks: list[doc.Block] = [
        doc.Paragraph(
            voice.text(
                "Bed bugs come with visitors, luggage and used furniture, and they pass through walls. "
                "Anybody "
                "can have them; they are no sign of dirt and nobody's fault."
            )
        ),
        doc.Heading(voice.text("What to look for")),
        doc.Bullets(
            (
                voice.text(
                    "Flat, reddish-brown insects as large as an apple seed; young ones are paler and smaller."
                ),
                voice.text(
                    "Small dark spots and cast skins at the seams of mattresses, behind headboards, on sofas."
                ),
                voice.text("Bites alone prove nothing: many people show none, and other things itch too."),
            )
        ),
        doc.Heading(voice.text("What to do")),
        doc.Bullets(
            (
                voice.text(
                    "Tell the office at once when you see a bug. Neighbours are not told who reported."
                ),
                voice.text(
                    "Let the technician in on the day of the notice. Whoever cannot, or needs help to "
                    "prepare, "
                    "tells the office; no reason is asked for."
                ),
                voice.text("Keep a hand's width between the bed and the wall, and bedding off the floor."),
                voice.text("Leave traps and covers that were set where they are."),
            )
        ),
        doc.Heading(voice.text("What not to do")),
        doc.Bullets(
            (
                voice.text(
                    "Use no foggers or sprays, no alcohol, gas, candles or heaters. They burn, poison or "
                    "scatter bugs."
                ),
                voice.text("Do not move to another room to sleep, and move nothing out: bugs move along."),
                voice.text("Do not throw out furniture before asking, and bring none in from the street."),
            )
        ),
        doc.Heading(voice.text("What happens next")),
        doc.Bullets(
            (
                voice.text(
                    "A technician looks at beds and sofas. That takes some minutes and nothing is sprayed."
                ),
                voice.text("If bugs are found, you get a sheet on how to get ready before a treatment."),
                voice.text(
                    "Several visits are usual. A home is called free of them only after repeated looks and "
                    "monitors that found nothing."
                ),
            )
        ),
    ]
    if who:
        blocks.append(doc.Facts(((voice.text("Who comes"), ", ".join(who)),)))
    return doc.Document(
        voice.text("Bed bugs: what everybody in the house should know"),
        tuple(blocks),
        made_on=session.on,
        language=voice.language,
        building=session.plan.name,
        large=True,
    )
