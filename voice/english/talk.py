"""What English says beside the matter itself: words that mean nothing for the log, and words that turn an entry into
something else: an order, a question, a plan, the past, another patient.

A word that stands in neither list is a content word. Content words have to be explained by the definition, or nothing
is logged. A list here may be too short (then the log asks too often); it must never hold a word that changes what is
meant: no direction, no state, no quantity, no body part, no device.
"""

from __future__ import annotations

from typing import Literal

Guard = Literal["order", "question", "not", "condition", "plan", "past", "elsewhere", "unsure", "nearly"]
"""Why something that sounds like an entry is none; `unsure` is asked, the others are left."""


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _phrases(text: str) -> tuple[str, ...]:
    return tuple(phrase.strip() for phrase in text.replace("\n", "|").split("|") if phrase.strip())


HARMLESS = _words(
    """
    a an the this that these those there here it its it'd he him his she her hers they them their theirs we us our ours i
    me my mine you your ones who which whose 's am is are was were be been being 're 'm 've has have had having do does
    did done doing get gets got gotten getting go goes gone going went come comes came coming
    um uh er erm ah oh-well oh och ja hey eh po lah leh lor hor aye voila alrighty righto rightio yo heya phew oof shame man
    mind-you kindly hmm mhm uhuh okay ok right alright so well yeah yep yes aye now then just and but also too plus again
    still only about-right actually really very quite pretty rather fairly basically literally simply finally already
    though anyway anyhow like as at of for with by to too than per via upon while since because cos
    good nice nicely lovely grand great fine perfect perfectly beautiful beautifully smooth smoothly easy easily
    gently slowly slow steady steadily quickly quick clean cleanly happy glad brilliant cracking sweet bang solid
    doctor doc sister nurse sir madam mam ma'am boss mate lads lad folks team everyone everybody guys people love hon
    consultant registrar reg anaesthetist anesthetist resident attending intern colleague colleagues professor boss
    patient patient's man woman gentleman lady fella chap bloke guy person himself herself
    please-and-thanks thanks thank cheers ta sorry apologies excuse
    roughly-speaking exactly precisely spot dead total-of
    moment minute-ago second-ago today tonight's morning's
    all whole entire both-of-them each every more-or-less some any bit wee little
    side way thing things stuff bits lot
    yourself myself ourselves themselves itself
    currently presently meanwhile straightaway immediately promptly instantly
    documented recorded noted charted written logged entered reported report reading
    reg's nurse's doctor's consultant's
    first second-time final last-one next-one new
    from-what-i-see apparently evidently clearly obviously definitely certainly surely indeed
    number figure value figures
    even nonetheless made use used using kind standing up-front stat stat-dose local-time minutes-past
    advised please-note advise confirmedly whatever somehow somewhat altogether-now ahead away finished finish across along
    big small large high-quality moderate proper tidy snug nicely-done cold warm wide open-ended little bitty
    morning evening afternoon night tonight's shift-wise hereby herewith further-note anesthesia anaesthesia
    nurse's team's crew's staff everybody's surgeon surgeons surgeon's medic medics paramedic trainee student assistant
    saw seen watching looking look looks look-see told telling said says saying say
    without-more such same own himself's gown-free okay-dokey okey dokey okie
    back-up left-over hour hours per-hour an-hour hourly
    """
)
"""Words that may stand anywhere and change nothing."""

HARMLESS_PHRASES = _phrases(
    """
    please record | please record that | please log | please log that | please note that | kindly record | kindly note that
    kindly log | be advised | for the file then | please be advised | record that please | for your info | take note please
    per hour | an hour | in the hour | past hour | last hour | this hour | wide open | rapid sequence | grade one view | grade two view
    # oh tube | size # tube | size # | # point # tube | number # tube | in good order | by the book | as per protocol | per protocol
    not a bother | not a problem | no hassle | no fuss at all | easy as you like | sweet as | as sweet as | good as gold
    and done | all done and dusted | done and dusted | signed off on | at around | or thereabouts then | i see | we see
    i have been through it | through it myself | went ahead and | gone ahead and | had to | managed to | got to
    as soon as theatre's free | as soon as possible | first thing | this evening | this afternoon | this morning
    as told by doctor | as told | as ordered | as asked | as planned | as agreed | as discussed | as before | as requested
    same as before | same as last time | same as earlier | like before | as we speak | for now | for you | right now
    by the way | for your information | to be clear | to confirm | just so you know | for the log | for the record then
    first go | first pass | first attempt | second go | second attempt | on the second go | at the first attempt
    in # goes | in # steps | over # goes | came in # goes | in one go | in a single go | in # shots | in # pushes
    in one piece | all of it | the lot | bit by bit | little by little | no problem | no problems | no issues | no trouble
    no bother | no worries | no drama | no fuss | without problem | without problems | without issue | without trouble
    without difficulty | without complication | happy with that | happy with it | that's that | there we go | there you go
    all good | all right | looks good | looking good | looks fine | good stuff | job done | well done | at last | so far
    on my count | give or take nothing | hand on heart | thank you | thanks a million | by myself | with my own hands
    this minute | this second | this moment | just this minute | at this time | at this point | at the moment | as of now
    since # minutes | since one minute | since a minute | # minutes ago | a minute ago | a moment ago | just a moment ago
    a second ago | a couple of minutes ago | for # minutes now | after test dose | i v | iv | intravenous | intravenously
    on # litres | on # liters | on room air | on oxygen | through the night so far | per minute | a minute | per min
    two by sixty mil syringes | on # percent | on the monitor | on the chart | on the screen | in the room
    i can tell you | i can report | i have to report | i want to report | you can log | you can write | log this | log that
    put down that | write down that | let me say | so that's | that's it | and that's it | and holding | and steady
    no change | without change | unchanged from before | touch wood | knock on wood | thank god | thank goodness
    # check | # hundred check | # o'clock check | # o'clock | # hundred hours | hourly check | on the hour
    report awaited | awaiting report | result awaited | for the chart | to be exact | to be precise
    since tube went down | since tube in | since we started | one minute since
    in seconds | in a few seconds | with no problems | report to follow | as we agreed | made | use | used for | my side | from my side | on our side | on my side
    """
)
"""Comments that change nothing, as a whole; `#` is any number."""

GUARD_WORDS: dict[Guard, frozenset[str]] = {
    "order": _words(
        """
        please let's lets must gimme
        inflate deflate push give inject pop fill add insert remove withdraw pull pass advance release empty apply attach
        secure check hang send ring call bring fetch get-me keep hold-it wait watch make-sure ensure bin chuck drop dump
        squirt bang-in stick whack connect disconnect flush-it irrigate rinse document administer start-it begin
        continue recheck reassess reposition turn roll sit lie prop tie fix tape tighten loosen lift lower-it raise
        unclamp reinflate retract wiggle ready-up page find grab pick hand-me pass-me show-me tell-me don't
        order request prepare cancel-that-order transfuse intubate bolus titrate
        """
    ),
    "question": _words("why how what when where who who's whose whether anyone anybody y'all any what's where's how's"),
    "not": _words("not no never nobody none neither nor nah nope cannot without nothing no-one hardly unable failed-to"),
    "condition": _words(
        """
        if unless should would could might may otherwise provided supposing imagine suppose reckon assuming 'd in-case
        whenever hypothetically ideally maximum max minimum target limit textbook
        """
    ),
    "plan": _words(
        """
        will 'll gonna plan plans planned planning tomorrow later soon next due shall intend intending want wants wanna
        need needs about-to ought expect expecting expected before until till upcoming midnight tonight
        """
    ),
    "past": _words("yesterday previous previously earlier ago used originally formerly historically"),
    "elsewhere": _words(
        """
        bay bed's beds ward-six corridor bathroom upstairs downstairs home cuff catheter urine bladder drain
        chest-drain ascitic ascites trach tracheostomy rectal feeding peg picc cannula arterial central neighbour
        neighbor other another-patient relative's
        """
    ),
    "unsure": _words("maybe perhaps possibly probably approximately approx roughly either think guess unclear-but unsure"),
    "nearly": _words("nearly almost halfway partly partially partway"),
}
"""Why -> words that make an utterance no plain entry, wherever they stand, unless a frame needs them."""

GUARD_PHRASES: dict[Guard, tuple[str, ...]] = {
    "order": _phrases(
        """
        can you | could you | would you | will you | for me | go ahead and | make sure | tell me when | when i tell you
        when i say | i need you to | i want you to | we need to | you need to | has to be | have to | need to | needs to
        are to be | is to be | to be done | let us | says to | said to | asked you to | how about | do not | if i say
        don't let | don't go | no higher | no more than | no lower | not above | not below | at most | at least
        without asking | get ready | be ready | stand by | ready to | hold on | hold that | tell me
        """
    ),
    "question": _phrases(
        """
        or not | do you think | what about | how much | how many | how far | any more | did you | did we | did anyone
        did anybody | does he | does she | do we | do i | do you | have you | has anyone | has anybody | should we
        should i | shall we | shall i | can i | can we | can one | who has | you know | am i | would you call
        """
    ),
    "not": _phrases("yet to | not yet | as yet | fail to | failed to | refuse to | refused | instead of | rather than"),
    "condition": _phrases(
        """
        in case | in the event | worst case | say it | even if | only if | what if | as soon as | once it | once he
        once she | once we | once the | once bleeding | when it | when the | when he | when she | when we | if it
        you'd expect | would be | could be | could well | might be | may be | had better | for all we know | up to you
        """
    ),
    "plan": _phrases(
        """
        going to | about to | in a sec | in a second | in a minute | in a moment | in a bit | in # minutes | in # hours
        in half an hour | in a half hour | in an hour | at midnight | in the morning | plan is | plan's | to be | was gonna
        were going to | was going to | going on | going in | on the way | on its way | on order | in twelve hours
        then comes | is to | are to | is at six | every # hours | every # minutes | every hour | after two units
        """
    ),
    "past": _phrases(
        """
        last time | last admission | last week | last year | last night | last month | the other day | years ago
        hours ago | days ago | weeks ago | months ago | used to | used to be | before she came | before he came
        at the other hospital | at the last hospital | in the ambulance | on arrival | had one of these | at home
        on admission | in theatre | in the past
        """
    ),
    "elsewhere": _phrases(
        """
        other patient | next patient | another patient | next door | next bed | the lad in | the lady in | yer man
        bed # | bay # | room # | e t tube | et tube | e t cuff | breathing tube | endotracheal tube | tracheal tube
        tracheal cuff | chest drain | central line | art line | arterial line | n g | ng tube | nasogastric | feeding tube
        urinary catheter | urine catheter | gastric band | not for him | not for her | not for this | in the corridor
        my own | twice a day | three times a day | once a day | at home | a day now | the fridge
        """
    ),
    "unsure": _phrases(
        """
        not sure | not certain | i think | i guess | i believe | or maybe | or thereabouts | or something | or so
        more or less | give or take | hard to say | can't tell | not clear | might have been | could have been | kind of
        sort of | looks okay | jumping about | bouncing between | all over the place | keeps jumping | lead is loose
        somewhere between | somewhere around | in the region of | or
        """
    ),
    "nearly": _phrases("half way | part way | nearly there | almost there | not quite | ready to go"),
}
"""The same for words that only mean it together."""

FIRST_QUESTION = _words("is are was were do does did can could should would will shall have has had am may might any")
"""Auxiliaries that make a question when they come first and a subject follows."""

SUBJECTS = _words(
    "the a an it he she we you i they that this there his her anyone anybody someone somebody my your our"
)

FIRST_ORDER = _words(
    """
    put let cut set read hang hold shut open close take tell get bring move leave run change make do try measure record
    write switch hook mind careful look listen allow force squeeze
    """
)
"""Words that are an order when they come first and what is acted on follows."""

FIRST_NOUN_OR_ORDER = _words("clamp drain mark wash suction aspirate lavage repeat stop start test bag balloon zero level check")
"""Words that are an order when they come first and a thing follows at once: "suction the port", not "suction on"."""

ACTED_ON = SUBJECTS | _words("both all some another him them these those one half more down up off out in")
"""Words after which such a first word is an order."""

VOCATIVES = _words(
    """
    okay ok right alright so well yeah yep yes now and then sir madam mam ma'am doctor doc sister nurse boss mate lads
    guys team um uh er erm ah hey oh hello , please sorry folks but also
    """
)
"""What may come before the first word that counts."""

REPAIRS = _phrases(
    "no sorry | sorry no | well no | no wait | wait no | no | sorry | correction | i mean | make that | scratch that | "
    "rather | actually no | i tell a lie | my mistake | excuse me | no no | apologies"
)
"""Between two numbers these take the first back: "fifty, no, sixty"."""

CONTRACTIONS = {
    "n't": "not",
    "can't": "can not",
    "cannot": "can not",
    "won't": "will not",
    "shan't": "shall not",
    "ain't": "is not",
    "let's": "let's",
    "gonna": "gonna",
    "'cause": "because",
    "ya": "you",
    "ye": "you",
    "haemorrhaging": "haemorrhaging",
}


def spelled_out(words: tuple[str, ...]) -> tuple[str, ...]:
    """Contractions as the words they stand for, "balloon's" as two words, without "the"."""
    out: list[str] = []
    for word in words:
        if word == "the":
            continue
        if word in CONTRACTIONS:
            out += CONTRACTIONS[word].split()
        elif word.endswith("n't") and len(word) > 3:
            out += [word[:-3], "not"]
        elif "'" in word[1:-1] and word.split("'")[1] in ("s", "ve", "re", "ll", "d", "m"):
            stem, tail = word.split("'", 1)
            out += [stem, f"'{tail}"]
        elif word.endswith("in'") and len(word) > 4:
            out.append(f"{word[:-1]}g")
        elif word.endswith("'") and len(word) > 1:
            out.append(word[:-1])
        else:
            out.append(word)
    return tuple(out)
