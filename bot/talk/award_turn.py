"""Taps and words about awards, each handed to the one function that does it. Nothing is done here."""
from __future__ import annotations

from bot.talk import awards, handing
from bot.talk import taps as t
from bot.talk.draft import Draft


def tapped(draft: Draft, tap: t.Tap) -> None:
    """A choice about handing over, or the order sheet."""
    match tap:
        case t.WhoseNot():
            handing.whose_not(draft, tap)
        case t.ButHers():
            handing.but_hers(draft, tap.awards, tap.to, (tap.child,))
        case t.HandOver(class_id, "list"):
            handing.show_list(draft, class_id)
        case t.HandOver():
            handing.hand_over(draft, tap.class_id)
        case t.NamesRight():
            handing.names_right(draft, tap)
        case t.ChangeName():
            handing.change_name(draft, tap)
        case _:
            awards.order(draft)


def word(draft: Draft, word: str) -> None:
    """A word that is all there is to it."""
    match word:
        case "awards":
            awards.awards(draft)
        case "order":
            awards.order(draft)
        case "on order":
            awards.all_on(draft, "ordered")
        case "sent":
            awards.all_on(draft, "sent")
        case "arrived":
            awards.all_on(draft, "arrived")
        case "hand over":
            handing.hand_over(draft)
        case "award list":
            handing.show_list(draft, None)
        case _:
            handing.all_handed_over(draft)
