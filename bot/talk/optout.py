"""Does somebody ask us to stop writing to them, in whatever words, or to begin again?

What lives here: the words, as tables, and nothing about who said them or what becomes of it. To be asked of families
and strangers; a coach talks of stopping all lesson long.

Whoever is in doubt stops: a message too many is worse than one that has to be asked for again. But ordinary talk is
no doubt: `don't stop`, `is class cancelled?` and `she can stop at the mat` say nothing about our messages.
"""
from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Final

from bot.fold import fold

# What changes nothing is left out before anything is looked for: `stop it please` is `stop`.
LEFT_OUT: Final = (
    "please|pls|plz|kindly|just|really|actually|even|ever|thanks|thank you|thankyou|thx|ta|cheers|very much|so much|"
    "ok|okay|hi|hello|hey|sorry|oh|now|already|immediately|asap|right away|straight away|at once|for good|forever|"
    "altogether|completely|any more|anymore|any longer|any|again|all|everything|it|this|that|these|"
    "those|them|your|automated|x|xx|xxx"
)
# An opt-out as a whole message: the words of 47 CFR 64.1200(a)(10), and those on which carriers and their gateways
# act by themselves, ARRET among them. PLAIN say it between two commas or full stops of a longer message too; the
# others do not, for `Noor is ill, please cancel` is about the class.
PLAIN: Final = "stop|stopall|unsubscribe|unsub|revoke|optout|opt out|opt me out|cease|arret"
ONLY_ALONE: Final = "cancel|end|quit|remove|td"
BEGIN: Final = "start|unstop|optin|opt in|subscribe|resubscribe"

# The phrases below are written as they are when folded, without what is left out. `<x>` is one of the list x, or of
# the words between the bars; `[x ]` may be missing; `^` and `$` are the ends of a clause.
LISTS: Final = {
    "plain": PLAIN,
    "end": "stop|cancel|end|quit|cease|cease and desist",
    "write": "text|txt|message|msg|contact|write|send|email|mail",
    "bother": "call|ring|phone|ping|bother|disturb|pester|harass|spam|notify|remind|update",
    "writing": "texting|txting|messaging|msging|contacting|writing|sending|emailing|mailing|calling|ringing|phoning|"
               "pinging|bothering|bugging|disturbing|pestering|harassing|spamming|notifying|reminding|updating",
    "written": "texted|messaged|contacted|emailed|called|rung|notified|reminded|bothered|disturbed",
    "get": "get|getting|receive|receiving|have|see",
    "me": "me|us|here|number|my number|our number|phone|my phone|mobile|my mobile",
    "mine": "number|phone|mobile|phone number|mobile number|cell number|contact|details|contact details|data|name",
    "messages": "messages|texts|txts|text messages|texting|messaging|msgs|sms|emails|notifications|updates|news|"
                "reminders|alerts|communications|spam|message$|text$|txt$|msg$|email$|contact$",     # `text me` asks
}
EVEN_ASKED: Final = (       # `can you stop texting me?`
    "^<can|could|would|will> <you|u> <plain>$",
    "^<how do i|how can i|how do we|how to> <plain>$",
    "<end> <writing>$",
    "<end> <writing> [to ]<me>",
    "<end> [with ][<writing> |<get> ][the |my |our ]<messages>",
    "<unsubscribe|unsubcribe|unsuscribe|unsub>",
    "<opt|opting> [me |us ]out[ of]$",
    "<opt out|opting out|opt me out|opt us out|optout> of [the ]<messages>",
    "<take|get|strike|cross|keep> <me|us|my name|my number|number> off",
    "<leave|keep> <me|us> out[ of]$",
    "<remove|delete|erase|wipe|get rid of> <me|us>",
    "<remove|delete|erase|wipe|get rid of> [my |our |the ]<mine>",
    "<lose|drop> [my |our ]number",
    "<revoke|withdraw|take back|cancel|end> [my |our |the ]<consent|permission|agreement|subscription>",
    "<turn|switch> off [the ]<messages>",
    "<turn|switch> [the ]<messages> off",
    "leave <me|us> <alone|be|in peace>$",
)
AFTER_DONT: Final = (       # `please don't text me`
    "<write>$",
    "[keep |be ]<write|writing> [to ]<me>",
    "[keep |be ]<bother|writing> <me>",
    "[keep |be ]<write|writing> [me |us ][more |the |anything ]<messages|anything>",
    "<want|need|wish>[ of]$",
    "<want|need|wish|care> [for |to ][<get> ][more |the ]<messages>",
    "<want|need|wish> to <get>$",
    "<want|need|wish> to hear<$| from>",
    "<want|need|wish> to be <written|on list|on the list>",
    "<want|need> anything from",
    "<consent|agree>[ to| with]$",
    "<consent|agree> to [<get> ][the ]<messages>",
)
TOLD: Final = (             # in no question: `no more news today?`
    "^<plain>$",
    "no <more|further> [of ][the ]<messages>",
    "<no need|you dont need|you dont have|you no longer need> to [keep ]<write|bother|writing> [to ]<me>",
    "^no more$",
    "^no <texts|text messages|messages|emails|calls>$",
    "rather not <get>$",
    "rather not <get> [the ]<messages>",
    "<want|wish|like|need> to be <removed|taken off|deleted|unsubscribed>",
    "^i said <plain>$",
    "^[i |we |id |wed |i would |we would ]<want|wish|like|need> [you |out ][to ]<plain>$",
    "^<make stop|i quit|i want out>$",
    "<never|didnt|did not|havent|have not> <sign|signed> up[ for| to]$",
    "<never|didnt|did not|havent|have not> <asked|ask|agreed|agree|consented|consent> <for|to>$",
    "<never|didnt|did not|havent|have not> <sign up|signed up|asked|ask|agreed|agree> <for|to> [the ]<messages>",
    "^[im |i am |we are ]<not|no longer> interested$",
    "^<ive|i have|weve|we have> had enough[ of]$",
    "had enough of <you|messages|the messages>",
    "^[thats ]enough[ of][ the][ <messages>]$",
    "^[you have |youve got |its |is ][the |a ]wrong <number|person>",
    "^<go away|get lost|piss off|fuck off|bugger off>$",
)

# Right before a phrase these turn it round: `don't stop texting me`, `did you stop the news?`, `you don't text me`.
TURNED: Final = "dont|not|never|didnt|wont|did you|do you|why"
OF_OTHERS: Final = "you|they"                                  # before a `don't`
NO_REFUSAL: Final = "did|does|will|why|did you|do you"          # before a `not`


def opts_out(text: str) -> bool:
    """Does this text ask us to stop? In any case and punctuation, with or without accents."""
    alone, even_asked, told = _expressions()
    if alone.fullmatch(_left(text)):
        return True
    return any(even_asked.search(clause) or (not asked and told.search(clause)) for clause, asked in _clauses(text))


def opts_in(text: str) -> bool:
    """Does it ask us to begin again? A bare `yes` is no such word here: it may answer something else."""
    return _left(text) in BEGIN.split("|")


def _clauses(text: str) -> Iterator[tuple[str, bool]]:
    """What stands between full stops, commas and dashes, without what is left out, and whether it is in a question."""
    for sentence in re.findall(r"[^.!?;\n]+\??", text):
        for clause in re.split(r"[,:()]|\s[-–]+\s|—", sentence):
            yield _left(clause), sentence.endswith("?")


def _left(text: str) -> str:
    """The words of a text, folded, without signs and without what changes nothing."""
    words = "".join(char if char.isalnum() else " " for char in fold(text))
    joined = re.sub(r"\b(\w) +(?=\w\b)", r"\1", words)      # S T O P
    return " ".join(re.sub(rf"\b(?:{LEFT_OUT})\b", "", joined).split())


@cache
def _expressions() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    """The tables as expressions: a whole message, a clause, a clause in no question. Made when first asked for."""
    even_asked = (
        _any_of(EVEN_ASKED, TURNED),
        _any_of(AFTER_DONT, OF_OTHERS, "<dont|do not|never|no longer> "),
        _any_of(AFTER_DONT, NO_REFUSAL, "not [to ]"),
    )
    alone = rf"(?:(?:{PLAIN}|{ONLY_ALONE})\b ?)+"
    return re.compile(alone), re.compile("|".join(even_asked)), re.compile(_any_of(TOLD, TURNED))


def _any_of(phrases: tuple[str, ...], turned: str, head: str = "") -> str:
    """The expression for a table: one of its phrases, in whole words, with nothing before it that turns it round."""
    before = "".join(rf"(?<!\b{words} )" for words in turned.split("|"))
    return rf"\b{before}{_spelled(head)}(?:{'|'.join(map(_spelled, phrases))})\b"


def _spelled(said: str) -> str:
    slots = re.sub(r"<(.*?)>", lambda slot: f"(?:{'|'.join(LISTS.get(one, one) for one in slot[1].split('|'))})", said)
    return re.sub(r"\[(.*?)\]", r"(?:\1)?", slots)
