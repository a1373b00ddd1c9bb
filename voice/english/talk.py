"""How English is said in a breath: contractions and dialect spelled out, slips taken back, verbs in the present that
report what was done.
"""

from __future__ import annotations

from voice.english.guards import REPORTING, SAME_WHEN_DONE
from voice.english.listed import pairs_of, phrases_of, words_of

_SLIPS = tuple(
    f"{who}{slip}{what}"
    for who in ("", "i ", "i 've ", "i have ")
    for slip in ("misread", "misheard", "misspoke", "miscounted", "mistyped", "misjudged")
    for what in ("", " it", " that")
)

REPAIRS = frozenset(_SLIPS) | frozenset(
    phrases_of(
        """
        no | nah | naw | nope | na | sorry | wait | hang on | hold on | correction | rather | or rather | actually
        i mean | i meant | make that | scratch that | strike that | correct that | check that | fix that | excuse me
        tell a lie | i tell a lie | i lie | i lied | my mistake | my bad | apologies | beg pardon | beg your pardon
        i beg your pardon | oops | wrong | that is wrong | i was wrong | not right | och | aw | ag | no man
        said it wrong | i said it wrong | i 've said it wrong | got it wrong | i got it wrong | it has changed
        """
    )
)
"""Between two numbers these, alone or one after the other, take the first back: "fifty, no, sorry, sixty"."""

NO_ANSWERS = frozenset(
    tuple(said.split())
    for said in phrases_of(
        "no | nope | nah | naw | no no | neither | neither of them | none of them | no neither | no that's wrong\n"
        "that's wrong | no it isn't | no it is not | no it's not | not that | no not that"
    )
)
"""Answer a question that offers something: none of it."""

BEFORE_THE_RIGHT_ONE = frozenset(
    phrases_of(
        """
        it was | it is | it 's | that was | that is | that 's | call it | make it | make that | it should be
        it should have been | only | just | i got | i only got | there was | there is | it reads | it says | more like
        it 's gone to | it is gone to | it has gone to | it went to | gone to | now it is
        now it 's | it is now | it 's now | now
        """
    )
)
"""May stand between a repair and the right number: "sorry, it was sixty"."""

HESITATIONS = words_of("um uh er erm em ehm euh ah oh eh hmm mm well ag och aw man mate doc")
"""May stand within a repair."""

NO_ADVERBS = words_of(
    "family belly assembly supply reply apply comply jelly italy july ally bully fly wobbly bubbly early elderly "
    "homely lonely lovely ugly silly friendly deadly costly chilly curly dolly holly molly lily monopoly anomaly"
)
"""End like an adverb and are none; any other word in -ly says only how."""

TAGS = words_of("right correct innit eh huh")
"""Words that ask at the end, behind a pause: "gastric's clamped, right"."""

LEADING = words_of("a an is are his her")
"""May come before a thing or a state and change nothing."""

CONTRACTIONS = {
    "can't": "can not",
    "cannot": "can not",
    "won't": "will not",
    "shan't": "shall not",
    "ain't": "is not",
    "'cause": "because",
    "ya": "you",
    "ye": "you",
    "nowt": "nothing",
    "owt": "anything",
    "summat": "something",
    "oan": "on",
    "nae": "no",
    "hunner": "hundred",
    "wi": "with",
    "aff": "off",
    "oot": "out",
    "doon": "down",
    "intae": "into",
    "noo": "now",
    "fae": "from",
    "outta": "out of",
    "oughta": "ought to",
    "mighta": "might have",
    "coulda": "could have",
    "gied": "gave",
    "gie": "give",
    "blowed": "blown",
    "didna": "did not",
    "canna": "can not",
    "dinna": "do not",
    "o'": "of",
    "wi'": "with",
    "'ead": "ahead",
    "gie's": "give us",
    "gies": "give us",
    "ower": "over",
    "fur": "for",
    "yin": "one",
    "ma": "my",
    "'em": "them",
    "naebody": "nobody",
}
"""Words of one piece -> the words they stand for."""

_TAILS = ("s", "ve", "re", "ll", "d", "m")

PAST_OF = pairs_of(
    """
    give gave | push pushed | inject injected | insert inserted | remove removed | withdraw withdrew | pull
    pulled | take took | put put | deflate deflated | inflate inflated | clamp clamped | unclamp unclamped |
    start started | begin begun | stop stopped | secure secured | anchor anchored | tape taped | tie tied |
    intubate intubated | wash washed | rinse rinsed | lavage lavaged | suck sucked | aspirate aspirated | drain
    drained | hang hung | attach attached | connect connected | apply applied | request requested | order
    ordered | check checked | mark marked | draw drew | release released | drop dropped | empty emptied | fill
    filled | add added | pop popped | shoot shot | transfuse transfused | infuse infused | run ran | raise
    raised | prop propped | lift lifted | turn turned | roll rolled | cut cut | test tested | pass passed |
    advance advanced | finish finished | serve gave | obstruct obstructed | complete completed | decide decided
    | call called | inform informed | fix fixed | set set | pump pumped | blow blew | squirt squirted |
    introduce introduced | instil instilled | pour poured | flush flushed | irrigate irrigated | place placed |
    position positioned | tighten tightened | loosen loosened | open opened | close closed | shut shut | squeeze
    squeezed | send sent | ring rung | notify notified | sign signed | hand handed | transfer transferred |
    review reviewed | administer administered | bolus bolused | titrate titrated | stick stuck | whack whacked |
    chuck chucked | bang banged | slide slid | extract extracted | evacuate evacuated | vent vented | suction
    suctioned | collect collected | return returned | bring brought | elevate elevated | tilt tilted | crank
    cranked | sit sat | top topped | hook hooked | install installed | reinflate reinflated
    """
)
"""Verb as an order says it -> as a report says it."""

REPORTED = frozenset(PAST_OF.values()) - PAST_OF.keys()

_DONE_TO = (
    ("had", "to"),
    ("managed", "to"),
    ("able", "to"),
    ("got", "to"),
    ("went", "to"),
    ("forced", "to"),
    ("obliged", "to"),
)
_NOUNS = words_of(
    "clamp tape drain mark test wash rinse flush lavage tie suction turn hook call check order tilt top place draw "
    "release"
)
"""Are as often things as verbs: "clamp off already" is no "clamped off"."""

_JUST_DONE = words_of("just")
""" "I just push in ninety" says what has been done, "I push in ninety" perhaps what is to be."""
_READ_OFF = words_of("check")
_ENDS_DONE = words_of("already finish finished liao")
_NO_REPORT = words_of("please to should must will can need want if let let's not never who you would could ever")


def spelled_out(words: tuple[str, ...]) -> tuple[str, ...]:
    """Contractions and dialect as the words they stand for, "balloon's" as two words, without "the"."""
    out: list[str] = []
    for word in words:
        if word != "the":
            out += _spelled_out(word)
    return tuple(out)


_IS = words_of("am is are was were 'm 's 're")


def _just_done(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "I'm after giving" is "I have just given": Irish English, and no word of time."""
    out: list[str] = []
    done = False
    for before, word, then in zip(("", *words), words, (*words[1:], ""), strict=False):
        if word == "after" and before in _IS and then.endswith("ing"):
            done = True
        else:
            out.append(_past_of_doing(word) if done else word)
            done = False
    return tuple(out)


def _past_of_doing(word: str) -> str:
    """ "Opening" -> "opened", where the verb is known; else the word itself."""
    if word == "doing":
        return "done"
    stem = word[:-3]
    bases = (stem, f"{stem}e", stem[:-1])
    known = PAST_OF | dict.fromkeys(SAME_WHEN_DONE, "")
    return next((known[base] or base for base in bases if base in known), word)


def is_adverb(word: str) -> bool:
    """Whether a word that nobody explains says only how something was done."""
    return word.endswith("ly") and len(word) > 4 and word not in NO_ADVERBS


def _spelled_out(word: str) -> list[str]:
    if word in CONTRACTIONS:
        return CONTRACTIONS[word].split()
    if word.endswith("n't") and len(word) > 3:
        return [word[:-3], "not"]
    if word.endswith("nae") and len(word) > 4:
        return [word[:-3], "not"]
    if "'" in word[1:-1] and word.split("'")[1] in _TAILS:
        stem, tail = word.split("'", 1)
        return [stem, f"'{tail}"]
    if word.endswith("in'") and len(word) > 4:
        return [f"{word[:-1]}g"]
    return [word[:-1] if word.endswith("'") and len(word) > 1 else word]


def as_told(words: tuple[str, ...]) -> tuple[tuple[str, ...], bool]:
    """Verbs in the present that report what was done, in the past; and whether it was said of just now.

    "Had to give ten", "clamp is on, inflate already" are reports; "I remove the clamp" is one that has to be asked.
    """
    out, now = list(_just_done(words)), False
    words = tuple(out)
    start = 0
    for end in (*(place for place, word in enumerate(words) if word == ","), len(words)):
        now = _told(out, start, end) or now
        start = end + 1
    return tuple(out), now


def _told(words: list[str], start: int, end: int) -> bool:
    """Changes the words of one clause; whether one of its verbs tells what is done now."""
    now = told = False
    done = any(word in _ENDS_DONE for word in words[max(start, end - 2) : end])
    for place in range(start, end):
        past = PAST_OF.get(words[place])
        if past is None:
            continue
        before = [
            word
            for word in words[start:place]
            if not word.endswith("ly") and word not in ("just", "now", "also", "then")
        ]
        if tuple(before[-2:]) in _DONE_TO or before[-1:] in (["have"], ["has"], ["had"], ["did"], ["'ve"]):
            words[place] = past
        elif _NO_REPORT & set(before):
            continue
        elif before[-1:] and before[-1] in REPORTING:
            just_done = not _JUST_DONE.isdisjoint(words[start:end]) or words[place] in _READ_OFF
            words[place], now = past, now or (past != words[place] and not just_done)
        elif (
            done
            and not told
            and (words[place] not in _NOUNS or not before)
            and not any(word in REPORTED for word in before)
        ):
            words[place], now, told = past, now or not before, True
    return now
