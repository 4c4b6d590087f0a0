"""The proposal of what the programme page has compared: the same runs, with the prices typed."""

from __future__ import annotations

from collections.abc import Mapping

from dashboard.programmes.offer import typed_offer, usual_offer
from dashboard.programmes.prices import typed_prices, usual_prices
from dashboard.programmes.work import Work
from spread.errors import SettingsError, SpreadError
from spread.programmes.choice import Choice, verdict_on
from spread.programmes.money import Prices
from spread.programmes.results import Comparison, summarise
from spread.report.document import Document
from spread.report.own_words import FIRM_FILE, read_firm
from spread.report.proposal import proposal
from spread.report.proposal_programmes import Offer
from spread.session import Session
from spread.words import ENGLISH, Voice
from spread.words.voice import LANGUAGES


def offered(session: Session, work: Work, sent: Mapping[str, str]) -> Document:
    """Return the proposal of the programmes compared; none of them is simulated again.

    ``work``: with runs that are done. ``sent``: ``choose``, the key of a programme that the firm proposes
    instead of the verdict's, texts of prices and of the offer by key, ``board`` for a copy without units, and
    ``language``. Raises SpreadError, in a sentence, when there is nothing to propose or an entry is none.
    """
    done = work.done
    ran = () if done is None else tuple(runs.programme for runs in done.runs)
    wanted = sent.get("choose", "")
    if done is None or (wanted and wanted not in [programme.key for programme in ran]):
        raise SpreadError(
            "There is nothing to propose; start a comparison, and choose one of its programmes."
        )
    if work.is_old:
        raise SpreadError("The building has new answers since these runs; start again, then propose.")
    typed = typed_prices(usual_prices(session), sent)
    terms = typed_offer(usual_offer(session), sent)
    if typed.problems or terms.problems:
        raise SettingsError("\n".join([*typed.problems.values(), *terms.problems.values()]))
    comparison = summarise(done, typed.prices, fees=terms.terms.schedule)
    first = verdict(work, comparison, typed.prices, wanted)
    held = work.wait_held(first.proposed)
    return proposal(
        session,
        Offer(
            comparison,
            ran,
            verdict(work, comparison, typed.prices, wanted) if held is not None else first,
            read_firm(session.building.folder / FIRM_FILE),
            terms.terms,
            work.turns(first.proposed, typed.prices, terms.terms.schedule),
            board=bool(sent.get("board")),
        ),
        document_voice(sent),
    )


def document_voice(sent: Mapping[str, str]) -> Voice:
    """Return the voice of a document to hand over, by its ``language``: its reader's and not the page's."""
    language = sent.get("language", "")
    return Voice(language) if language in LANGUAGES else ENGLISH


def verdict(work: Work, comparison: Comparison, prices: Prices, proposed: str = "") -> Choice:
    """Return the verdict on runs that are done, held against nothing and waiting where those are made."""
    done = work.done
    assert done is not None
    return verdict_on(done, prices, comparison, others=work.held, seen=lambda: work.seen, proposed=proposed)
