"""Who asks us to stop is heard, however it is said; who says something else is not taken at such a word."""
from __future__ import annotations

import pytest

from bot.talk.optout import LEFT_OUT, opts_in, opts_out

STOPS = (
    "STOP", "Stop.", "stop please", "please stop", "stop it please", "STOPALL", "stop all", "UNSUBSCRIBE",
    "unsubscribe me", "cancel", "CANCEL!", "end", "End.", "quit", "Quit", "revoke", "optout", "opt out", "opt-out",
    "Opt Out Please", "arrêt", "ARRET", "td", "remove", "please don't text me", "Please don’t text me any more",
    "take me off", "take me off your list", "Take us off this list please", "no more messages please",
    "no more texts", "No more!", "leave me alone", "Leave us alone please", "remove my number",
    "Remove my number from your list", "delete my number", "I don't want these any more",
    "I don't want these messages", "I do not want this anymore", "stop texting me", "stop messaging me please",
    "Stop sending me these", "stop sending these messages", "please stop sending texts", "can you stop texting me?",
    "could you please stop?", "Could you stop sending me messages", "Would you kindly stop", "DO NOT CONTACT ME",
    "Do not call me again.", "don't message us again", "Don't write to me", "don't send me anything",
    "dont send any more", "never text this number again", "I don't want to hear from you",
    "We don't want to get these", "I don't want to receive these", "I don't want to receive any more messages",
    "i dont want to be contacted", "I no longer want these", "I no longer wish to receive texts",
    "no longer interested", "not interested", "We are not interested, thanks", "wrong number",
    "You have the wrong number", "Sorry, wrong number", "I never signed up for this", "I didn't ask for these",
    "I did not sign up for these messages", "opt me out", "I'd like to opt out", "I want to opt out please",
    "I would like to unsubscribe", "how do I unsubscribe?", "How do I stop this?", "how can I stop these messages?",
    "I withdraw my consent", "I revoke consent", "cancel my subscription", "I want you to stop",
    "I want this to stop", "make it stop", "i want to stop", "we want to stop", "enough", "That's enough!",
    "I've had enough of these messages", "go away", "Get lost", "turn these messages off", "turn off notifications",
    "cease and desist all communications", "Please remove me from your text messages, I've asked three times.",
    "STOP STOP STOP", "Stop!!! I mean it", "No, stop", "Hi, please stop. Thanks, Sarah", "STOP\nSarah (Noor's mum)",
    "Noor has left the club, please stop", "Noor has left the club so don't text me any more",
    "no need to text me any more", "you don't need to text me anymore", "I asked you not to text me", "stop now",
    "stop this now", "stop asap", "stop these", "quit texting me", "quit sending me these", "end these messages",
    "cancel these texts", "no further messages please", "stop bothering us", "Stop with the texts",
    "I don't need these", "I don't consent", "I do not agree to this", "unsub", "Please unsubscribe us from the news",
    "would you mind not texting me", "can you not text me", "why won't you stop texting me?", "drop my number",
    "lose my number", "please delete my data", "get me off this list", "leave me out of this", "stop contacting me",
    "S T O P", "stop!", "¡STOP!", "ＳＴＯＰ", "🛑 STOP 🛑", "“STOP”", "stop?", "end?", "STOP - Sarah",
    "Stop the messages",
    "we don't want any more news", "I don't want any more news about Noor", "Stop news", "no more news please",
    "please take my number off your system", "I don't want to be on this list", "please stop it",
    "That is enough, stop", "I want out", "Pls stop txting me", "stop txt", "Stop texts", "I'd rather not get these",
    "I would rather not receive these messages", "can you take me off this list?",
    "Please could you remove me from this", "Please remove me.", "I want to be removed", "I want to be taken off",
    "please delete me from your system", "Do not text", "no texts please", "no messages", "No more thank you",
    "I said STOP", "Just stop", "Stop! Stop!", "STOP STOP", "please stop this", "Please stop messaging",
    "stop msging me", "STOP IT", "end it please", "cancel it", "quit it", "please stop contacting me about Noor",
    "Don't send me messages about Noor any more", "I do not wish to be contacted again",
    "We don't need any more messages", "Please stop the updates about Leo", "Stop updates", "I don't want updates",
    "not interested any more", "I'm not interested", "This is the wrong number", "wrong person",
    "Don't ever text me again", "Do not send any more texts", "Never text me again", "Please end this",
    "could you stop these?", "Can I stop these messages?", "can I opt out?", "How do I opt out?",
    "how do i opt out of this", "I'm opting out", "we are opting out", "We opt out", "I withdraw consent",
    "please withdraw my permission", "I take back my consent", "Please leave us in peace", "Stop bugging me",
    "stop spamming", "this is spam, stop", "STOP!!!!!", "stop...", "stop, stop, stop", "Stop please x", "stop ❤️",
    "Stop messages", "stop all messages", "STOP ALL", "Stop everything", "I don't want to hear any more",
    "I don't want any of this", "I don't want this", "Please no more", "That's enough messages", "Take my number off",
    "please take this number off your list", "get rid of my number", "unsubcribe", "Unsubscribe please",
    "can you unsubscribe me", "please unsubscribe this number", "You keep texting me, stop",
    "we have moved, please stop texting", "Noor doesn't come any more, please stop messages", "Stop, she left",
    "we left the club. stop", "no longer want this", "we no longer need these messages", "stop sending",
    "please cease",
    "opt us out of the news", "You don't have to keep texting me", "You no longer need to text us",
    "I don't want anything from you", "I've had enough",
    "I don't consent to these messages", "We no longer agree to get texts", "it is not to text me",
)
TALKS = (
    "Can you at the end text me how she did?", "At the end, text me", "When lessons end text me",
    "at the bus stop text me", "leave us out of the show", "I don't want to be on the beam",
    "did I lose my phone at the hall?", "I think I lost my number badge", "don't stop", "Don't stop!",
    "please don't stop", "she can stop at the mat", "when does it end?", "When does it end", "is class cancelled?",
    "Is class cancelled", "Has class been cancelled today", "cancelled", "quit worrying",
    "can Noor do it again, no more falling?", "the end", "the end!", "don't stop texting me",
    "Please don't stop sending these", "never stop", "I don't want these to stop", "I don't want this to end", "yes",
    "ok", "start", "unstop", "ava yes", "help", "info", "what time does class end?", "Is it the end of term?",
    "When is the end of term", "will it end at six?", "does it stop for half term?",
    "why did you stop sending the news?", "Did you stop texting?", "Why don't you text me any more?",
    "you don't text me any more", "Are there no more messages?", "no more news today?",
    "Noor can't stop talking about it", "Noor never wants to stop", "Noor is not interested in the beam",
    "Noor is ill, please cancel", "Please cancel Tuesday", "Cancel her lesson on Tuesday please",
    "How do I cancel a class?", "Is Tuesday cancelled, or can we come?", "She wants to quit ballet",
    "Noor will quit if she has to wait", "She didn't want to stop", "the bus stop is closed",
    "we stop at the shop first", "we'll be late, the bus won't stop", "I don't want her to fall",
    "I don't want to miss it", "I don't want her on the beam", "She doesn't want to do this",
    "do not send her home alone", "Please don't send Noor home alone", "don't write her off",
    "Can you remove her plaster?", "Can you text me when she passes?", "text me please", "send me the news",
    "What does she need to stop doing?", "How long until the end?", "Thanks, that's great news", "Great news!",
    "thank you so much", "Is this the wrong number?", "did I get the wrong number",
    "I'll take her off the list of spares", "Take your shoes off", "Take off your shoes", "no more falling",
    "no more tears", "no more gym for her this week", "Please leave Noor alone for a bit", "we'll end up late",
    "weekend", "Can she end on the left leg?", "End of the show was lovely", "Should she stop before the line?",
    "Stop at the line?", "Tell her to stop at the line", "start and end times please",
    "When do lessons start and end?", "remove shoes at the door?", "Where do I remove her shoes",
    "Do they need to quit early", "join ABC", "Will you text me?", "Do you still send news?",
    "I didn't get the message", "I didn't get any messages", "there are no more spaces?", "I never got the news",
    "How do I get the messages?", "who is this?", "Is she seen?", "has she stopped?", "do I need to end anything?",
    "I need to cancel Tuesday", "Can we cancel Tuesday?", "Can she stop?", "can it end early?", "Do not worry",
    "Don't worry", "never mind", "no worries", "No", "not yet", "nope", "she had enough", "is that enough?",
    "Enough water?", "Can I have the number of the coach?", "My phone is off", "phone was off", "sorry my phone died",
    "I turned my phone off", "I did not text you back, sorry", "Noor's dad did not text me back",
    "they never text me", "I want Noor to stop and breathe", "cheers, bye", "stopwatch", "non-stop",
    "She won't stop practising!", "she went non stop", "can you quit early?", "When will you send the messages?",
    "Would you like me to stop?", "Don't you want her there?", "I don't need a refund", "we don't need anything",
    "Stop by the hall at five?", "Shall we stop by?", "Can we stop by at six", "Where does the bus stop",
    "she must stop and think", "Let me know when it stops", "one stop shop", "I'd like to start again",
    "What's the end time", "The end is at six", "What did Noor do today?", "How did she do?",
    "Why hasn't she passed?", "Is there class in half term?", "Class cancelled?", "Was class cancelled",
    "Did you cancel?", "Will you cancel if it snows?", "can you cancel if it snows?", "Can you cancel her place",
    "We can't come Tuesday", "Noor will be away", "do I take her off at the end?", "Please tell Jo thanks",
    "I need help", "can you call me", "please call me back", "call me", "send it again", "Could you send that again?",
    "Can I have a text when she's done", "Please message me about the show", "no problem", "no idea", "not now",
    "no news yet?", "any news?", "No news this week", "No message today?", "I have no messages",
    "have you got my number", "My number has changed", "Our new number is 07700 900123", "I've changed my number",
    "Is this number right?", "please use my other number", "Did she get the award or not",
    "She doesn't like the beam", "I don't like the new hall", "I do not know", "Don't forget Noor is away",
    "don't let her do the vault", "please don't let Noor do handstands, her wrist hurts",
    "she is not to do handstands", "Do not let Leo leave alone", "Don't call her Nooria",
    "Noor's leaving at the end of term", "We are leaving the club in July", "she wants to leave",
    "she has had enough of ballet", "I agree", "I consent", "I do not mind", "We don't need kit?",
    "don't we need kit?", "Do we not need shoes?", "I don't have the message", "I don't have any messages from Jo",
    "I can't get any messages", "Is it going to end on time?", "End on time today?", "On and on without end",
    "Ends at 6?", "Quitting time?", "When can she quit the beginners", "We had enough time", "leave me a message",
    "please leave a message", "leave her out of the show please", "keep me posted", "Keep me updated",
    "keep texting please", "go away party on Friday", "holiday, we go away on Monday",
    "Please do not stop texting me", "Please never stop sending the news", "That didn't stop the messages",
    "She won't stop texting me about it", "Do you stop the news in summer?", "Why stop the news?",
    "Do you not want texts", "Why not text me instead", "She does not want texts", "Jo did not text me",
    "Jo will not text me", "Did you not text me",
)


@pytest.mark.parametrize("text", STOPS)
def test_who_asks_us_to_stop_is_heard(text: str) -> None:
    """The carriers' words, politely or not, and what people say in their own words; it is no asking to begin."""
    assert opts_out(text)
    assert not opts_in(text)


@pytest.mark.parametrize("words", LEFT_OUT.split("|"))
def test_what_changes_nothing_changes_nothing(words: str) -> None:
    """Politeness and the like, before or after, hide no opt-out."""
    assert opts_out(f"{words} stop")
    assert opts_out(f"Stop {words}!")


@pytest.mark.parametrize("text", TALKS)
def test_ordinary_talk_is_no_opt_out(text: str) -> None:
    """Questions about the class, what a child is to stop doing, and what turns the words round."""
    assert not opts_out(text)


@pytest.mark.parametrize("text", ["START", "unstop", "Opt in please", "opt-in", "Subscribe!"])
def test_who_asks_us_to_begin_is_heard(text: str) -> None:
    """The words that begin anew, alone."""
    assert opts_in(text)


@pytest.mark.parametrize("text", ["", "yes", "start tuesday", "don't start", "when do we start?", "stop", "restart"])
def test_no_more_than_that_begins_anew(text: str) -> None:
    """A bare yes, and a start of anything else, begins nothing."""
    assert not opts_in(text)


@pytest.mark.parametrize("text", ["", " ", "?", "...", "\n", "👍", "🛑", "停", "x", "-" * 5000, "a " * 5000])
def test_any_text_is_taken(text: str) -> None:
    """Nothing at all, signs and other scripts are no opt-out, and no error."""
    assert not opts_out(text)
