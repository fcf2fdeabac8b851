"""Does somebody ask us to stop writing to them, in whatever words, or to begin again?

What lives here: the words, as tables, and nothing about who said them or what becomes of it. To be asked of families
and strangers; a coach talks of stopping all lesson long.

Whoever is in doubt stops: a message too many is worse than one that has to be asked for again. But ordinary talk is
no doubt: `don't stop`, `is class cancelled?` and `she can stop at the mat` say nothing about our messages.
"""
from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from bot.fold import fold

# What changes nothing is left out before anything is looked for: `stop it please` is `stop`.
LEFT_OUT: Final = (
    "please|pls|plz|kindly|just|really|actually|even|ever|thanks|thank you|thankyou|thx|ta|cheers|very much|so much|"
    "ok|okay|hi|hello|hey|sorry|oh|now|already|immediately|asap|right away|straight away|at once|for good|forever|"
    "altogether|completely|any more|anymore|any longer|any|again|all|everything|it|this|that|these|"
    "those|them|your|automated"
)
# An opt-out as a whole message: the words of 47 CFR 64.1200(a)(10), and those on which carriers and their gateways
# act by themselves, ARRET among them. PLAIN say it between two commas or full stops of a longer message too; the
# others do not, for `Noor is ill, please cancel` is about the class.
PLAIN: Final = "stop|stopall|unsubscribe|unsub|revoke|optout|opt out|opt me out|arret"
ONLY_ALONE: Final = "cancel|end|quit|remove|td"
BEGIN: Final = "start|unstop|optin|opt in|subscribe|resubscribe"

# The phrases below are written as they are when folded, without what is left out. `<x>` is one of the list x, or of
# the words between the bars; `[x ]` may be missing; `^` and `$` are the ends of a clause.
LISTS: Final = {
    "plain": PLAIN,
    "end": "stop|cancel|end|quit|cease|cease and desist",
    "write": "text|message|msg|contact|write|send|email|mail",
    "bother": "call|ring|phone|ping|bother|disturb|pester|harass|spam|notify|remind|update",
    "writing": "texting|messaging|contacting|writing|sending|emailing|mailing|calling|ringing|phoning|pinging|"
               "bothering|disturbing|pestering|harassing|spamming|notifying|reminding|updating",
    "written": "texted|messaged|contacted|emailed|called|rung|notified|reminded|bothered|disturbed",
    "get": "get|getting|receive|receiving|have|see",
    "me": "me|us|here|number|my number|our number|phone|my phone|mobile|my mobile",
    "mine": "number|phone|mobile|phone number|mobile number|cell number|contact|details|contact details|data|name",
    "messages": "message|messages|text|texts|text messages|texting|messaging|msg|msgs|sms|email|emails|notification|"
                "notifications|update|updates|news|reminder|reminders|alert|alerts|contact|communications|spam",
}
EVEN_ASKED: Final = (       # `can you stop texting me?`
    "^<can|could|would|will> <you|u> <plain>$",
    "^<how do i|how can i|how do we|how to> <plain>$",
    "<end> <writing>$",
    "<end> <writing> [to ]<me>",
    "<end> [with ][<writing> |<get> ][the |my |our ]<messages>",
    "<unsubscribe|unsub>",
    "<opt|opting> [me |us ]out$",
    "<opt|opting|optout> [me |us ][out ]of [the ]<messages>",
    "<take|get|strike|cross|keep> <me|us|my name|my number|number> off",
    "<leave|keep> <me|us> out",
    "<remove|delete|erase|wipe|lose> <me|us>",
    "<remove|delete|erase|wipe|lose|drop> [my |our |the ]<mine>",
    "<revoke|withdraw|cancel|end> [my |our |the ]<consent|permission|agreement|subscription>",
    "<turn|switch> off [the ]<messages>",
    "<turn|switch> [the ]<messages> off",
    "leave <me|us> <alone|be|in peace>$",
)
AFTER_DONT: Final = (       # `please don't text me`
    "<write>$",
    "[keep |be ]<write|writing> [to ]<me>",
    "[keep |be ]<bother|writing> <me>",
    "[keep |be ]<write|writing> [me |us ][more |the |anything ]<messages|anything>",
    "<need|have> to [keep ]<write|bother|writing> [to ]<me>",
    "<want|need|wish>$",
    "<want|need|wish|care> [for |to ][<get> ][more |the ]<messages>",
    "<want|need|wish> to <get>$",
    "<want|need|wish> to hear from",
    "<want|need|wish> to be <on|written>",
    "<want|need> anything from",
    "<consent|agree>[ to| with]$",
    "<consent|agree> to [<get> |be ][the ]<messages|written>",
)
TOLD: Final = (             # in no question: `no more news today?`
    "^<plain>$",
    "no <more|further> [of ][the ]<messages>",
    "<no need|you dont need|you dont have> to [keep ]<write|bother|writing> [to ]<me>",
    "^no more$",
    "^[i |we |id |wed |i would |we would ]<want|wish|like|need> [you |out ][to ]<plain>$",
    "^<make stop|i quit|i want out>$",
    "<never|didnt|did not|havent|have not> <sign|signed> up[ for| to]$",
    "<never|didnt|did not|havent|have not> <asked|ask|agreed|agree|consented|consent> <for|to>$",
    "<never|didnt|did not|havent|have not> <sign up|signed up|asked|ask|agreed|agree> <for|to> [the ]<messages>",
    "^[im |i am |we are ]<not|no longer> interested$",
    "^<ive|i have|weve|we have> had enough[ of]$",
    "had enough of <you|messages|the messages>",
    "^[thats ]enough$",
    "^[you have |youve got |its |is ][the |a ]wrong <number|person>",
    "^<go away|get lost|piss off|fuck off|bugger off>$",
)

# Right before a phrase these turn it round: `don't stop texting me`, `did you stop the news?`, `you don't text me`.
_TURNED: Final = ("dont", "do not", "not", "never", "didnt", "wont", "did you", "do you", "have you", "why", "there")
_OTHERS: Final = ("you", "they", "he", "she", "did", "does", "why", "who")
_NOT_OTHERS: Final = ("they", "he", "she", "did", "does", "will", "did you", "do you", "have you", "why", "who")


def opts_out(text: str) -> bool:
    """Does this text ask us to stop? In any case and punctuation, with or without accents."""
    if _ALONE.fullmatch(_left(text)):
        return True
    return any(_EVEN_ASKED.search(clause) or (not asked and _TOLD.search(clause)) for clause, asked in _clauses(text))


def opts_in(text: str) -> bool:
    """Does it ask us to begin again? A bare `yes` is no such word here: it may answer something else."""
    return _BEGIN.fullmatch(_left(text)) is not None


def _clauses(text: str) -> Iterator[tuple[str, bool]]:
    """What stands between full stops, commas and dashes, without what is left out, and whether it is in a question."""
    for sentence in re.findall(r"[^.!?;\n]+\??", text):
        for clause in re.split(r"[,:()]|\s[-–]+\s|—", sentence):
            yield _left(clause), sentence.endswith("?")


def _left(text: str) -> str:
    """The words of a text, folded, without signs and without what changes nothing."""
    words = "".join(char if char.isalnum() else " " for char in fold(text))
    joined = re.sub(r"\b(\w) +(?=\w\b)", r"\1", words)      # S T O P
    return " ".join(_LEFT_OUT.sub("", joined).split())


def _any_of(phrases: tuple[str, ...], turned: tuple[str, ...], head: str = "") -> str:
    """The expression for a table: one of its phrases, in whole words, with nothing before it that turns it round."""
    before = "".join(rf"(?<!\b{words} )" for words in turned)
    return "|".join(rf"{before}\b{_spelled(head + said)}\b" for said in phrases)


def _spelled(said: str) -> str:
    slots = re.sub(r"<(.*?)>", lambda slot: f"(?:{'|'.join(LISTS.get(one, one) for one in slot[1].split('|'))})", said)
    return re.sub(r"\[(.*?)\]", r"(?:\1)?", slots)


_LEFT_OUT: Final = re.compile(rf"\b(?:{LEFT_OUT})\b")
_ALONE: Final = re.compile(rf"(?:(?:{PLAIN}|{ONLY_ALONE})\b ?)+")
_BEGIN: Final = re.compile(rf"(?:(?:{BEGIN})\b ?)+")
_DONT: Final = _any_of(AFTER_DONT, _OTHERS, head="<dont|do not|never|no longer> ")
_NOT: Final = _any_of(AFTER_DONT, _NOT_OTHERS, head="not [to ]")
_EVEN_ASKED: Final = re.compile(f"{_any_of(EVEN_ASKED, _TURNED)}|{_DONT}|{_NOT}")
_TOLD: Final = re.compile(_any_of(TOLD, _TURNED))
